"""Take back whatever was done last: a record of returns or a revision of the plan."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from forestcycle.cycle.in_force import read_plan_in_force
from forestcycle.cycle.revision_log import last_revision, with_undoing
from forestcycle.cycle.undo import Undone, undo_last_record
from forestcycle.cycle.versions import older_versions, put_back, recover, version_before
from forestcycle.errors import Fault, StoreError
from forestcycle.fieldwork.books import read_books
from forestcycle.fieldwork.lock import locked
from forestcycle.inventory.source import books_path
from forestcycle.inventory.store import refuse_if_open, write_layers
from forestcycle.progress import Progress, silent
from forestcycle.publish.plan_folder import PLAN_FILE
from forestcycle.settings import load_settings


@dataclass(frozen=True)
class UndoneRevision:
    """Which revision was taken back: its number, time, first day and how many visits it moved."""

    change: int
    at: str
    from_day: str
    moved: int
    plan: Path


def undo_last(path: Path, folder: Path, *, progress: Progress = silent) -> Undone | UndoneRevision:
    """Take back the last record or revision that stands, whichever came later.

    Parameters
    ----------
    path : Path
        The settings file.
    folder : Path
        The plan's; need not exist.
    progress : Progress, optional

    Returns
    -------
    Undone or UndoneRevision

    Raises
    ------
    StoreError
        If there is nothing to take back, or it cannot be written.
    """
    if not older_versions(folder).exists():
        return undo_last_record(path, progress=progress)
    with locked(folder.absolute(), "the plan", progress=progress):
        recover(folder)
        revision = _last_revision(folder)
        if revision is None or str(revision["at"]) < _last_record_at(path):
            return undo_last_record(path, progress=progress)
        return _undo(folder, revision)


def _last_revision(folder: Path) -> pd.Series | None:
    """Last revision of the plan that is not undone, None if there is none."""
    if not (folder / PLAN_FILE).exists():
        return None
    return last_revision(read_plan_in_force(folder).changes)


def _last_record_at(path: Path) -> str:
    """Time of the last record that stands; empty without one."""
    file = books_path(load_settings(path), path.parent)
    last = read_books(file).last_record() if file.exists() else None
    return "" if last is None else str(last["at"])


def _undo(folder: Path, revision: pd.Series) -> UndoneRevision:
    """Put the plan before the revision back, with the revision and its undoing on record."""
    number = int(revision["change"])
    kept = version_before(folder, number)
    if not (kept / PLAN_FILE).exists():
        remedy = "it was deleted; revise again, or make a plan with 'forestcycle plan'"
        raise StoreError(Fault("the plan before that revision is not here", str(kept), remedy))
    refuse_if_open(folder.absolute() / PLAN_FILE)
    changes = with_undoing(read_plan_in_force(folder).changes, revision)
    write_layers(kept / PLAN_FILE, {"changes": changes}, keep_other_layers=True)
    put_back(folder, number)
    return UndoneRevision(
        change=number,
        at=str(revision["at"]),
        from_day=str(revision["from_day"]),
        moved=int(revision["moved"]),
        plan=folder,
    )
