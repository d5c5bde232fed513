"""Write everything that people see of a plan."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from forestcycle.inventory.atomic import flush_to_disk, flushed_together, is_abandoned, writing
from forestcycle.inventory.store import refuse_if_open
from forestcycle.inventory.swap import flush_file_system, replace_folder
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish.city_map import write_city_map
from forestcycle.publish.crew_lists import write_crew_lists
from forestcycle.publish.day_map import write_day_maps
from forestcycle.publish.gpx import write_gpx
from forestcycle.publish.icalendar import write_icalendar
from forestcycle.publish.index import write_index
from forestcycle.publish.notices import write_notices
from forestcycle.publish.outlook_folder import (
    KEPT,
    keep_outlook,
    kept_outlook,
    outlook_of_plan,
)
from forestcycle.publish.plan_folder import PLAN_FILE, read_plan_folder
from forestcycle.publish.plan_version import plan_version
from forestcycle.publish.report import write_report
from forestcycle.publish.sheets import write_sheets
from forestcycle.publish.styles import write_styles
from forestcycle.publish.unchanged import Unchanged, carry_over, whole_weeks, without

PUBLISHING = ".publishing-"
"""How the folder begins in which outputs are made before they move into place."""


def publish(
    folder: Path | str,
    *,
    outlook: Path | None = None,
    without_outlook: bool = False,
    unchanged: Unchanged | None = None,
    workers: int = 1,
    progress: Progress = silent,
) -> Path:
    """Write a plan's crew lists, sheets, maps, notices, report and index into its folder.

    All is written into a folder of its own first and then moved into place, kind by kind, so a
    failure leaves the old outputs alone, and none of an older plan stays.

    Parameters
    ----------
    folder : Path or str
        With ``plan.gpkg`` and ``summary.json``.
    outlook : Path, optional
        Folder of an outlook of the same city and year: the report tells of the years ahead.
        A copy is kept in the plan's folder and used until another one is given.
    without_outlook : bool
        Leave the years ahead out of the report, and drop the copy.
    unchanged : Unchanged, optional
        Crew-days whose papers an older folder holds already.
    workers : int
        Processes that draw sheets, where there are many. More than one needs the guard
        ``if __name__ == "__main__"`` in a script.
    progress : callable

    Returns
    -------
    Path
        The index page.

    Raises
    ------
    StoreError
        If the plan cannot be read or the outputs cannot be written.
    """
    folder = Path(folder)
    progress(Step("reading the plan"))
    refuse_if_open(folder.absolute() / PLAN_FILE)
    plan = read_plan_folder(folder)
    outlook = None if without_outlook else outlook or kept_outlook(folder)
    ahead = None if outlook is None else outlook_of_plan(outlook, plan)
    with writing(folder), _fresh_folder(folder) as fresh, flushed_together():
        progress(Step("crew lists"))
        write_crew_lists(plan, fresh)
        same = set() if unchanged is None else whole_weeks(plan, unchanged)
        changed = without(plan, same) if same else plan
        if unchanged is not None:
            carry_over(plan, unchanged, same, fresh)
        write_sheets(changed, fresh, version=plan_version(plan), workers=workers, progress=progress)
        progress(Step("routes, calendars and notices"))
        write_gpx(changed, fresh)
        write_icalendar(plan, fresh)
        write_notices(plan, fresh)
        write_day_maps(changed, fresh, progress=progress)
        write_city_map(plan, fresh, progress=progress)
        progress(Step("report"))
        write_report(plan, fresh, outlook=ahead)
        progress(Step("styles of the map layers"))
        write_styles(plan, fresh)
        if outlook is not None:
            keep_outlook(outlook, fresh)
        write_index(plan, fresh)
        _move_into_place(fresh, folder)
        if without_outlook:
            shutil.rmtree(folder / KEPT, ignore_errors=True)
    return folder / "index.html"


@contextmanager
def _fresh_folder(folder: Path) -> Iterator[Path]:
    """Give a folder within the plan's to write into, and remove what is left of it."""
    _remove_abandoned(folder)
    fresh = Path(tempfile.mkdtemp(prefix=PUBLISHING, dir=folder))
    try:
        yield fresh
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _move_into_place(fresh: Path, folder: Path) -> None:
    """Put each file and folder in the old one's place: whole ones only, at any moment."""
    flush_file_system(fresh)
    refuse_if_open(folder.absolute() / PLAN_FILE)
    for entry in sorted(fresh.iterdir()):
        target = folder / entry.name
        if target.is_dir():
            replace_folder(entry, target, fresh / f".old-{entry.name}")
        else:
            entry.replace(target)
    flush_to_disk(folder)


def _remove_abandoned(folder: Path) -> None:
    """Remove what a run that was killed left in the folder."""
    for leftover in folder.glob(f"{PUBLISHING}*"):
        if is_abandoned(leftover):
            shutil.rmtree(leftover, ignore_errors=True)
