"""A folder for parcels among the system's temporary files, cleared even after a kill.

A process that is killed cannot clear up behind itself, so the next one does it.
Whoever uses such a folder holds the system's own lock of it (``flock``), which the
system lets go when the process dies, however it dies: a folder that can be
locked was left behind. What tidies up temporary files leaves locked folders
alone too (systemd, "Using /tmp/ and /var/tmp/ Safely"). Where the system has
no such lock, Windows say, nothing is cleared.
"""

import contextlib
import os
import shutil
import tempfile
import time
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

PREFIX = "forestcycle-parcels-"
SUFFIX = ".parcel"
SECONDS_TO_LOCK = 60.0
"""Another process may have made its folder and be about to lock it."""


class ParcelFolder:
    """A new folder of this process; what killed processes left behind is cleared.

    Attributes
    ----------
    path : Path
    """

    def __init__(self) -> None:
        _clear_left_behind(Path(tempfile.gettempdir()))
        self.path = Path(tempfile.mkdtemp(prefix=PREFIX))
        self._lock = _lock(self.path)
        self._parcels = 0

    def new_parcel(self) -> Path:
        """Name a file that does not exist yet.

        Returns
        -------
        Path
        """
        self._parcels += 1
        return self.path / f"{self._parcels}{SUFFIX}"

    def remove(self) -> None:
        """Remove the folder with all parcels."""
        shutil.rmtree(self.path, ignore_errors=True)
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None


def _clear_left_behind(place: Path) -> None:
    """Remove parcels that no process holds, and their folders if nothing else is in them."""
    for folder in place.glob(f"{PREFIX}*"):
        lock = _lock(folder) if _may_be_left_behind(folder) else None
        if lock is None:
            continue
        with contextlib.suppress(OSError):
            for parcel in folder.glob(f"*{SUFFIX}"):
                parcel.unlink()
            folder.rmdir()
        os.close(lock)


def _may_be_left_behind(folder: Path) -> bool:
    try:
        return time.time() - folder.lstat().st_mtime > SECONDS_TO_LOCK
    except OSError:
        return False


def _lock(folder: Path) -> int | None:
    """Lock a folder for as long as what is given stays open; None if that cannot be."""
    if fcntl is None:
        return None
    try:
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except OSError:
        return None
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(opened)
        return None
    return opened
