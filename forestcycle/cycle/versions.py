"""Put a new version of a plan's folder in the old one's place, and keep the old one.

On Linux the two folders change names in one step, so there is no moment
without a plan. Elsewhere there is one between two renames; whoever holds the
plan's lock next puts the old one back.
"""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from forestcycle.cycle.folder import take_along
from forestcycle.inventory.atomic import flush_to_disk, is_abandoned, writing
from forestcycle.inventory.store import refuse_if_open
from forestcycle.inventory.swap import exchange, flush_file_system
from forestcycle.publish.plan_folder import PLAN_FILE

ASIDE = ".aside"
"""How the name ends that the plan has for a moment where names cannot be exchanged."""


def older_versions(folder: Path) -> Path:
    """Where older versions of a plan's folder are kept: ``NAME-revisions`` beside it.

    Parameters
    ----------
    folder : Path
        The plan's.

    Returns
    -------
    Path
    """
    folder = folder.absolute()
    return folder.with_name(f"{folder.name}-revisions")


def version_before(folder: Path, change: int) -> Path:
    """Where the version is kept that a change replaced.

    Parameters
    ----------
    folder : Path
        The plan's.
    change : int
        Its number.

    Returns
    -------
    Path
    """
    return older_versions(folder) / f"before-{change:04d}"


@contextmanager
def next_version(folder: Path, change: int) -> Iterator[Path]:
    """Give an empty folder to write into; it becomes the plan, the old plan is kept.

    The new plan has the name of the old version before the two change names: at
    no moment can a plan be in force whose old version is nowhere.

    Parameters
    ----------
    folder : Path
        The plan's, which is locked.
    change : int
        Number of the change, under which the old version is kept.

    Yields
    ------
    Path

    Raises
    ------
    StoreError
        If it cannot be written, or another program is writing the old plan,
        which is then as it was.
    """
    folder = folder.absolute()
    kept = version_before(folder, change)
    refuse_if_open(folder / PLAN_FILE)
    with writing(kept.parent):
        kept.parent.mkdir(exist_ok=True)
        _remove_abandoned(kept.parent)
        fresh = Path(tempfile.mkdtemp(prefix=f".{kept.name}-", suffix=".part", dir=kept.parent))
    try:
        with writing(folder):
            yield fresh
            fresh.chmod(0o755)
            take_along(folder, fresh)
            shutil.rmtree(kept, ignore_errors=True)
            fresh.rename(kept)
            _swap(kept, folder)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def put_back(folder: Path, change: int) -> None:
    """Make the version before a change the plan again; the plan of that change is removed.

    Parameters
    ----------
    folder : Path
        The plan's, which is locked.
    change : int

    Raises
    ------
    StoreError
        If it cannot be put back.
    """
    folder, kept = folder.absolute(), version_before(folder, change)
    with writing(folder):
        take_along(folder, kept)
        _swap(kept, folder)
        shutil.rmtree(kept, ignore_errors=True)


def recover(folder: Path) -> None:
    """Finish or take back what a process left that died between two renames.

    Parameters
    ----------
    folder : Path
        The plan's, which is locked.
    """
    folder = folder.absolute()
    for aside in sorted(older_versions(folder).glob(f"*{ASIDE}")):
        kept = aside.with_name(aside.name.removesuffix(ASIDE))
        if not folder.exists():
            aside.rename(folder)
        elif not kept.exists():
            aside.rename(kept)


def _swap(kept: Path, folder: Path) -> None:
    """Let a version and the plan change names, in one step where the system can."""
    flush_file_system(kept)
    refuse_if_open(folder / PLAN_FILE)
    if not exchange(kept, folder):
        aside = kept.with_name(kept.name + ASIDE)
        shutil.rmtree(aside, ignore_errors=True)
        folder.rename(aside)
        kept.rename(folder)
        aside.rename(kept)
    flush_to_disk(kept.parent)
    flush_to_disk(folder.parent)


def _remove_abandoned(place: Path) -> None:
    for leftover in place.glob(".before-*.part"):
        if is_abandoned(leftover):
            shutil.rmtree(leftover, ignore_errors=True)
