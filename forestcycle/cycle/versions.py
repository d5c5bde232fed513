"""Put a new version of a plan's folder in the old one's place, and keep the old one.

On Linux the two folders change names in one step, so there is no moment
without a plan. Elsewhere there is one between two renames; whoever opens the
plan next puts the old one back.
"""

import ctypes
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from forestcycle.cycle.folder import OWN_NAMES
from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.atomic import cannot_write, flush_to_disk, is_abandoned

EXCHANGE = 2
HERE = -100


def older_versions(folder: Path) -> Path:
    """Where older versions of a plan's folder are kept: ``NAME-revisions`` beside it."""
    folder = folder.absolute()
    return folder.with_name(f"{folder.name}-revisions")


def version_before(folder: Path, change: int) -> Path:
    """Where the version is kept that a change replaced."""
    return older_versions(folder) / f"before-{change:04d}"


@contextmanager
def next_version(folder: Path, change: int) -> Iterator[Path]:
    """Give an empty folder to write into; it becomes the plan, the old plan is kept.

    Parameters
    ----------
    folder : Path
        The plan's.
    change : int
        Number of the change, under which the old version is kept.

    Yields
    ------
    Path

    Raises
    ------
    StoreError
        If it cannot be written; the old plan is then as it was.
    """
    folder = folder.absolute()
    kept = version_before(folder, change)
    try:
        kept.parent.mkdir(exist_ok=True)
        _remove_abandoned(kept.parent)
        fresh = Path(tempfile.mkdtemp(prefix=f".{kept.name}-", suffix=".part", dir=kept.parent))
    except OSError as error:
        raise StoreError(cannot_write(kept.parent, error)) from None
    try:
        yield fresh
        fresh.chmod(0o755)
        shutil.rmtree(kept, ignore_errors=True)
        flush_to_disk(fresh)
        swap(fresh, folder)
        fresh.rename(kept)
        take_along_notes(kept, folder)
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        raise StoreError(cannot_write(folder, error)) from None
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def put_back(folder: Path, change: int) -> None:
    """Make the version before a change the plan again; the plan of that change is removed.

    Parameters
    ----------
    folder : Path
    change : int

    Raises
    ------
    StoreError
        If that version is not there any more, or cannot be put back.
    """
    folder, kept = folder.absolute(), version_before(folder, change)
    if not (kept / "plan.gpkg").exists():
        remedy = "it was deleted; make a plan with 'forestcycle plan'"
        raise StoreError(Fault("the plan before that revision is not here", str(kept), remedy))
    try:
        swap(kept, folder)
        take_along_notes(kept, folder)
        shutil.rmtree(kept, ignore_errors=True)
    except OSError as error:
        raise StoreError(cannot_write(folder, error)) from None


def take_along_notes(old: Path, folder: Path) -> None:
    """Move what is not forestcycle's own, a chief's notes say, into the plan's folder."""
    for entry in old.iterdir():
        if entry.name not in OWN_NAMES and not (folder / entry.name).exists():
            entry.rename(folder / entry.name)


def swap(one: Path, other: Path) -> None:
    """Let two folders on one disk change names, in one step where the system can.

    Parameters
    ----------
    one, other : Path
    """
    if not _exchanged(one, other):
        aside = one.with_name(one.name + ".aside")
        other.rename(aside)
        one.rename(other)
        aside.rename(one)
    flush_to_disk(other.parent)


def recover(folder: Path) -> None:
    """Put the plan back if a process died between two renames.

    Parameters
    ----------
    folder : Path
    """
    folder = folder.absolute()
    if not folder.exists():
        for aside in sorted(older_versions(folder).glob("*.aside")):
            aside.rename(folder)
            return


def _exchanged(one: Path, other: Path) -> bool:
    """Ask Linux to exchange two names; False where that is not possible."""
    if not sys.platform.startswith("linux"):
        return False
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if rename is None:
        return False
    done = rename(HERE, os.fsencode(one), HERE, os.fsencode(other), EXCHANGE)
    return bool(done == 0)


def _remove_abandoned(place: Path) -> None:
    for leftover in place.glob(".before-*.part"):
        if is_abandoned(leftover):
            shutil.rmtree(leftover, ignore_errors=True)
