"""A lock file, so that two people do not write the same books or plan at once.

Where the system can lock open files (``flock``), the owner holds the lock file
so for as long as its process lives: the system itself lets go when the process
dies, however it dies. So a lock left behind is told from one in use.
"""

import contextlib
import errno
import json
import os
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.atomic import cannot_write
from forestcycle.progress import Progress, Step, silent

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

MOST_TRIES = 5


@dataclass(frozen=True)
class _Holder:
    """Whose a lock is, as written in it."""

    pid: int
    host: str
    since: str

    def __str__(self) -> str:
        return f"process {self.pid} on {self.host} of {self.since}"


@contextlib.contextmanager
def locked(path: Path, what: str, *, progress: Progress = silent) -> Iterator[None]:
    """Hold the lock of a file or folder while the body runs.

    A lock that a process of this computer left behind when it died is cleared,
    and ``progress`` told so. One of another computer never is: over a shared
    drive no program can tell whether its owner still runs.

    Parameters
    ----------
    path : Path
        Its lock is ``NAME.lock`` beside it.
    what : str
        What it is to people, such as ``the plan``.
    progress : Progress, optional

    Raises
    ------
    StoreError
        Someone else holds it. The fault says who and since when.
    """
    lock = path.with_name(path.name + ".lock")
    with _taken(lock, what, progress):
        try:
            yield
        finally:
            lock.unlink(missing_ok=True)


def _taken(lock: Path, what: str, progress: Progress) -> TextIO:
    """Make the lock file and hold it; the file must stay open."""
    for _ in range(MOST_TRIES):
        try:
            file = lock.open("x", encoding="utf-8")
        except FileExistsError:
            holder = _holder(lock)
            if holder is not None and _left_behind(lock, holder):
                progress(Step(f"cleared a lock on {what}, left behind by {holder}"))
            elif lock.exists():
                raise StoreError(_held(lock, holder, what)) from None
        except OSError as error:
            raise StoreError(cannot_write(lock, error)) from error
        else:
            _sign(file, lock)
            return file
    raise StoreError(_held(lock, _holder(lock), what))


def _sign(file: TextIO, lock: Path) -> None:
    """Write into a lock whose it is; one that a full disk leaves unsigned goes again."""
    try:
        _hold(file)
        since = datetime.now(UTC).isoformat(timespec="seconds")
        json.dump({"pid": os.getpid(), "host": socket.gethostname(), "since": since}, file)
        file.flush()
    except OSError as error:
        lock.unlink(missing_ok=True)
        with contextlib.suppress(OSError):  # what a full disk did not take, it refuses again
            file.close()
        raise StoreError(cannot_write(lock, error)) from error


def _hold(file: TextIO) -> bool:
    """Ask for the system's own lock of an open file; False if another process has it."""
    if fcntl is None:
        return False
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO):
            raise
        return False
    return True


def _holder(lock: Path) -> _Holder | None:
    """Read whose a lock is; None if it does not say or is gone."""
    try:
        told = json.loads(lock.read_text(encoding="utf-8"))
        return _Holder(int(told["pid"]), str(told["host"]), str(told["since"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _left_behind(lock: Path, holder: _Holder) -> bool:
    """Remove a lock whose owner was a process of this computer that runs no more."""
    if holder.host != socket.gethostname():
        return False
    try:
        with lock.open("r+", encoding="utf-8") as file:
            if not _hold(file):
                return False
            still_there = os.fstat(file.fileno()).st_ino == lock.stat().st_ino
            if still_there:
                lock.unlink()
            return still_there
    except OSError:
        return False


def _held(lock: Path, holder: _Holder | None, what: str) -> Fault:
    if holder is None:
        return Fault(
            f"somebody is writing {what}, or a process died while it took the lock",
            str(lock),
            f"wait a minute; if nobody is at work on {what}, delete this file",
        )
    return Fault(
        f"process {holder.pid} on {holder.host} has been writing {what} since {holder.since}",
        str(lock),
        f"wait until it is done; if it is gone, delete this file: nothing of it is in {what}",
    )
