"""Put a new folder in an old one's place in one step, once its files are on the disk."""

import contextlib
import ctypes
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

from forestcycle.inventory.atomic import flush_to_disk

AT_FDCWD, RENAME_EXCHANGE = -100, 2
"""Linux, ``fcntl.h`` and ``linux/fs.h``; see renameat2(2)."""


def exchange(one: Path, other: Path) -> bool:
    """Swap two names, so that at no moment either of them is missing.

    Parameters
    ----------
    one, other : Path
        Both exist, on one file system.

    Returns
    -------
    bool
        False where the system or the file system has no such call; then
        nothing has changed.

    Notes
    -----
    ``renameat2(2)`` with ``RENAME_EXCHANGE``: Linux 3.15 and later, not on
    every network drive.
    """
    call = getattr(_library(), "renameat2", None)
    if call is None:
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(call(AT_FDCWD, names[0], AT_FDCWD, names[1], RENAME_EXCHANGE) == 0)


def replace_folder(fresh: Path, folder: Path, previous: Path) -> None:
    """Put a folder in another's place; the old one is then ``fresh`` or gone.

    Parameters
    ----------
    fresh : Path
        The new folder, on the same file system.
    folder : Path
        Need not exist.
    previous : Path
        Name that the old folder has for a moment where names cannot be
        exchanged: a run that is killed then leaves it there.
    """
    if not folder.exists():
        fresh.rename(folder)
    elif not exchange(fresh, folder):
        shutil.rmtree(previous, ignore_errors=True)
        folder.rename(previous)
        fresh.rename(folder)
        shutil.rmtree(previous, ignore_errors=True)


def carry_over(entry: Path, folder: Path) -> None:
    """Give a file or folder a second name in another folder, or copy it.

    Parameters
    ----------
    entry : Path
        Stays as it is.
    folder : Path
        Gets it under the same name.
    """
    target = folder / entry.name
    if entry.is_dir() and not entry.is_symlink():
        shutil.copytree(entry, target, symlinks=True, copy_function=_link_or_copy)
    else:
        _link_or_copy(entry, target)


def _link_or_copy(source: str | Path, target: str | Path) -> None:
    try:
        os.link(source, target, follow_symlinks=False)
    except (OSError, NotImplementedError):  # a file system without hard links
        shutil.copy2(source, target, follow_symlinks=False)


def flush_file_system(folder: Path) -> None:
    """Force all files of a folder onto the disk: one call, however many they are.

    Parameters
    ----------
    folder : Path
        A folder of the file system that is flushed (syncfs(2) on Linux; else
        all of them, and on Windows file by file).

    Raises
    ------
    OSError
        If the disk did not take them.
    """
    call = getattr(_library(), "syncfs", None)
    if call is not None:
        with _opened(folder) as descriptor:
            if call(descriptor) != 0:
                code = ctypes.get_errno()
                raise OSError(code, os.strerror(code), str(folder))
    elif hasattr(os, "sync"):
        os.sync()
    else:
        for path in folder.rglob("*"):
            if path.is_file():
                flush_to_disk(path)


@contextlib.contextmanager
def _opened(folder: Path) -> Iterator[int]:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def _library() -> ctypes.CDLL | None:
    """Return the C library of this process; None on Windows."""
    return None if os.name == "nt" else ctypes.CDLL(None, use_errno=True)
