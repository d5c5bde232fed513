"""Replace a file in one step: readers see the old one or the new one, never half."""

import contextlib
import glob
import os
import secrets
import time
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path

from forestcycle.errors import Fault, StoreError

SQLITE_COMPANIONS = ("-wal", "-journal", "-shm")
ABANDONED_SECONDS = 24 * 3600.0
"""Whatever nobody has changed for a day was left by a process that was killed."""
_FLUSHED_TOGETHER: ContextVar[bool] = ContextVar("flushed together", default=False)


@contextlib.contextmanager
def flushed_together() -> Iterator[None]:
    """Leave flushing to the caller, who flushes the whole folder before it is put to use.

    For thousands of files in a folder that nobody knows of yet: flushing each is
    most of the time that writing them takes. Holds in the thread that asks for it.
    """
    token = _FLUSHED_TOGETHER.set(True)
    try:
        yield
    finally:
        _FLUSHED_TOGETHER.reset(token)


@contextlib.contextmanager
def writing(path: Path) -> Iterator[None]:
    """Say in a line what the system says where it does not take what the body writes.

    Parameters
    ----------
    path : Path
        What people know the place by.

    Raises
    ------
    StoreError
    """
    try:
        yield
    except StoreError:
        raise
    except OSError as error:
        raise StoreError(cannot_write(path, error)) from error


@contextlib.contextmanager
def replacing(path: Path | str) -> Iterator[Path]:
    """Give a temporary path in the same folder that becomes ``path`` at the end.

    The body writes the temporary file and closes it. It is then flushed to
    disk and renamed over ``path``, and the folder is flushed too, so that a
    power cut leaves either the old file or the new one (but see
    :func:`flushed_together`). Whatever goes wrong before, the temporary file is
    removed and ``path`` is as it was. One that a killed process left behind is
    removed by a later write to ``path``.

    Parameters
    ----------
    path : Path or str
        The file to make or replace; missing folders are made.

    Yields
    ------
    Path
        Does not exist yet; has the suffix of ``path``.

    Raises
    ------
    StoreError
        Where the operating system refuses: disk full, no permission.
    """
    path = Path(path)
    part = path.with_name(f".{path.stem}.{secrets.token_hex(4)}.part{path.suffix}")
    try:
        with writing(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            for leftover in path.parent.glob(f".{glob.escape(path.stem)}.*.part{path.suffix}"):
                if is_abandoned(leftover):
                    remove_with_companions(leftover)
            yield part
            together = _FLUSHED_TOGETHER.get()
            if not together:
                flush_to_disk(part)
            part.replace(path)
            if not together:
                flush_to_disk(path.parent)
    finally:
        remove_with_companions(part)


def write_bytes_atomically(path: Path | str, content: bytes) -> None:
    """Write a file in one step; see :func:`replacing`.

    Parameters
    ----------
    path : Path or str
    content : bytes

    Raises
    ------
    StoreError
        Where it cannot be written; the old file is then as it was.
    """
    with replacing(path) as part:
        part.write_bytes(content)


def write_text_atomically(path: Path | str, text: str) -> None:
    """Write a text file as UTF-8 in one step, line ends as given.

    Parameters
    ----------
    path : Path or str
    text : str

    Raises
    ------
    StoreError
        Where it cannot be written; the old file is then as it was.
    """
    write_bytes_atomically(path, text.encode("utf-8"))


def cannot_write(path: Path, error: OSError) -> Fault:
    """Say in a line why a file could not be written.

    Parameters
    ----------
    path : Path
        What people know the place by.
    error : OSError

    Returns
    -------
    Fault
    """
    reason = error.strerror or str(error)
    return Fault(
        f"cannot be written: {reason}",
        str(path),
        "free some space, allow writing there, or choose another folder; nothing was changed",
    )


def flush_to_disk(path: Path) -> None:
    """Force what was written to a file or folder onto the disk.

    Parameters
    ----------
    path : Path
    """
    flags = os.O_RDONLY if path.is_dir() else os.O_RDWR
    if path.is_dir() and os.name == "nt":  # Windows cannot open a folder, and need not
        return
    descriptor = os.open(path, flags)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def is_abandoned(path: Path) -> bool:
    """Whether a temporary file or folder was last changed long ago.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
        False where it is gone.
    """
    try:
        return time.time() - path.stat().st_mtime > ABANDONED_SECONDS
    except OSError:
        return False


def companions(path: Path) -> list[Path]:
    """List the files that SQLite would keep beside a database.

    Parameters
    ----------
    path : Path
        The database.

    Returns
    -------
    list of Path
        Whether they are there or not.
    """
    return [Path(f"{path}{ending}") for ending in SQLITE_COMPANIONS]


def remove_with_companions(path: Path) -> None:
    """Remove a file and what SQLite left beside it, if they are there.

    Parameters
    ----------
    path : Path
    """
    for leftover in (path, *companions(path)):
        with contextlib.suppress(OSError):
            leftover.unlink(missing_ok=True)
