"""Replace a folder of results as a whole, or leave it as it was."""

import glob
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from forestcycle.errors import Fault, StoreError
from forestcycle.fieldwork.lock import locked
from forestcycle.inventory.atomic import flush_to_disk, is_abandoned, writing
from forestcycle.inventory.store import refuse_if_open
from forestcycle.inventory.swap import carry_over, flush_file_system, replace_folder
from forestcycle.progress import Progress, silent
from forestcycle.publish.index import INDEX_PAGE
from forestcycle.publish.outputs import OUTPUTS
from forestcycle.publish.plan_folder import PLAN_FILE, SUMMARY_FILE
from forestcycle.publish.publishing import PUBLISHING

OWN_NAMES = frozenset(
    {
        *(PLAN_FILE, SUMMARY_FILE, INDEX_PAGE, "revision.csv", "revision.json"),
        *(output.place for output in OUTPUTS),
    }
)


@contextmanager
def replacing_folder(folder: Path, *, progress: Progress = silent) -> Iterator[Path]:
    """Give an empty folder to write into; put it in the old one's place at the end.

    The new folder stands beside the old one until everything in it is
    written, so a failure or an interruption leaves the old results alone.
    Files that are not forestcycle's own (a chief's notes, say) are in the new
    one too before it takes the old one's place.

    Parameters
    ----------
    folder : Path
        Where the results shall stand.
    progress : Progress, optional

    Yields
    ------
    Path
        The folder to write into.

    Raises
    ------
    StoreError
        If the place cannot be written to, someone else is writing it, or it holds
        something that is not a folder of results.
    """
    folder = folder.absolute()
    with writing(folder):
        folder.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", suffix=".part", dir=folder.parent))
    try:
        with writing(folder), locked(folder, "the plan", progress=progress):
            _recover(folder)
            _refuse_foreign(folder)
            refuse_if_open(folder / PLAN_FILE)
            _remove_abandoned(folder)
            yield fresh
            fresh.chmod(0o755)
            _swap(fresh, folder)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _previous(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}-previous")


def _recover(folder: Path) -> None:
    """Put back the old results if a run was killed between the two renames."""
    previous = _previous(folder)
    if previous.is_dir() and not folder.exists():
        previous.rename(folder)


def _remove_abandoned(folder: Path) -> None:
    """Remove what a run that was killed left beside the folder."""
    for leftover in folder.parent.glob(f".{glob.escape(folder.name)}-*.part"):
        if is_abandoned(leftover):
            shutil.rmtree(leftover, ignore_errors=True)


def _refuse_foreign(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise StoreError(Fault("is a file, not a folder", str(folder), "choose another name"))
    names = {entry.name for entry in folder.iterdir()}
    if names and not names & OWN_NAMES:
        raise StoreError(
            Fault("holds files but no plan", str(folder), "choose an empty or a new folder")
        )


def _swap(fresh: Path, folder: Path) -> None:
    """Take along what others put there, flush, and change the names in one step."""
    if folder.exists():
        take_along(folder, fresh)
    flush_file_system(fresh)
    refuse_if_open(folder / PLAN_FILE)
    replace_folder(fresh, folder, _previous(folder))
    flush_to_disk(folder.parent)


def take_along(folder: Path, fresh: Path) -> None:
    """Give a new version of a folder what is not forestcycle's own, a chief's notes say.

    Parameters
    ----------
    folder : Path
        Keeps it too.
    fresh : Path
    """
    for entry in folder.iterdir():
        if _belongs_to_others(entry, fresh):
            carry_over(entry, fresh)


def _belongs_to_others(entry: Path, fresh: Path) -> bool:
    return (
        entry.name not in OWN_NAMES
        and not entry.name.startswith((PUBLISHING, f"{PLAN_FILE}-"))
        and not (fresh / entry.name).exists()
    )
