"""A lock file, so that two people do not write the same books at once."""

import contextlib
import json
import os
import socket
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.atomic import cannot_write


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock of a file while the body runs.

    Parameters
    ----------
    path : Path
        The file; its lock is ``NAME.lock`` beside it.

    Raises
    ------
    StoreError
        Someone else holds it. The fault says who and since when, and whether
        that process still runs where this can be known. A lock left behind is
        never taken over by itself: over a shared drive nobody can tell.
    """
    lock = path.with_name(path.name + ".lock")
    me = {
        "pid": os.getpid(),
        "host": socket.gethostname(),
        "since": datetime.now(UTC).isoformat(timespec="seconds"),
    }
    try:
        with lock.open("x", encoding="utf-8") as file:
            _sign(file, lock, me)
    except FileExistsError:
        raise StoreError(_held(lock)) from None
    except OSError as error:
        raise StoreError(cannot_write(lock, error)) from error
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _sign(file: TextIO, lock: Path, me: dict[str, object]) -> None:
    """Write into a lock whose it is; one that a full disk leaves unsigned goes again."""
    try:
        json.dump(me, file)
        file.flush()
    except OSError:
        lock.unlink(missing_ok=True)
        raise


def _held(lock: Path) -> Fault:
    try:
        holder = json.loads(lock.read_text(encoding="utf-8"))
        pid, host, since = int(holder["pid"]), str(holder["host"]), str(holder["since"])
    except (OSError, ValueError, KeyError, TypeError):
        return Fault(
            "is being written, or a process died while it took the lock",
            str(lock),
            "wait a minute; if nobody is at work on these books, delete this file",
        )
    who = f"process {pid} on {host} since {since}"
    if host == socket.gethostname() and not _runs(pid):
        return Fault(
            f"left behind by {who}, which runs no more",
            str(lock),
            "delete this file; the books are as they were before that process",
        )
    return Fault(
        f"is being written by {who}",
        str(lock),
        "wait until it is done; if that process is gone, delete this file",
    )


def _runs(pid: int) -> bool:
    """Whether a process of this host runs; True where it cannot be known."""
    if os.name == "nt":  # there, signal 0 would end the process
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
