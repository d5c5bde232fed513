"""Write everything that people see of a plan."""

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import copy_context
from pathlib import Path

from forestcycle.inventory.atomic import flush_to_disk, flushed_together, is_abandoned, writing
from forestcycle.inventory.store import refuse_if_open
from forestcycle.inventory.swap import flush_file_system, replace_folder
from forestcycle.parallel import Executor, Processes, Threads
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish.index import INDEX_PAGE, write_index
from forestcycle.publish.outlook_folder import KEPT, kept_outlook, outlook_of_plan
from forestcycle.publish.output import Carried, Edition, Output
from forestcycle.publish.outputs import OUTPUTS
from forestcycle.publish.plan_folder import PLAN_FILE, PlanFolder, read_plan_folder
from forestcycle.publish.unchanged import Unchanged, carry_over, what_to_carry

PUBLISHING = ".publishing-"
"""How the folder begins in which outputs are made before they move into place."""
DAYS_OF_A_PROCESS = 30
"""Drawing so many crew-days takes longer than starting a process for them."""


def publish(
    folder: Path | str,
    *,
    outlook: Path | None = None,
    without_outlook: bool = False,
    unchanged: Unchanged | None = None,
    outputs: Sequence[Output] = OUTPUTS,
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
    outputs : sequence of Output
        What to write, in order; all kinds by default.
    workers : int
        Processes that draw sheets and maps, where there are many. More than one needs the guard
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
        carried = _carried_over(plan, unchanged, outputs, fresh)
        with _executor(plan, carried, workers) as executor:
            edition = Edition(plan, fresh, ahead, outlook, carried, executor, progress)
            _write_all(edition, outputs)
        write_index(edition, outputs)
        _move_into_place(fresh, folder)
        if without_outlook:
            shutil.rmtree(folder / KEPT, ignore_errors=True)
    return folder / INDEX_PAGE


def _write_all(edition: Edition, outputs: Sequence[Output]) -> None:
    """Write all outputs; while processes draw theirs, a thread of this one writes the others."""
    drawn = [output for output in outputs if output.by_workers]
    others = [output for output in outputs if not output.by_workers]
    if edition.executor.workers == 1:
        _write_in_turn(edition, outputs)
        return
    beside = ThreadPoolExecutor(1)
    try:
        context = copy_context()  # knows that files are flushed together
        written = [beside.submit(context.run, output.write, edition) for output in others]
        _write_in_turn(edition, drawn)
        for output, writing_it in zip(others, written, strict=True):
            _tell(edition, output)
            writing_it.result()
    finally:
        beside.shutdown(cancel_futures=True)


def _write_in_turn(edition: Edition, outputs: Sequence[Output]) -> None:
    for output in outputs:
        _tell(edition, output)
        output.write(edition)


def _tell(edition: Edition, output: Output) -> None:
    if output.step:
        edition.progress(Step(output.step))


def _executor(plan: PlanFolder, carried: Carried, workers: int) -> Executor:
    """Take processes where there is more to draw than they take to start."""
    used = plan.crew_days[plan.crew_days["stops"] > 0]
    days = int((~used["crew_day_id"].astype(str).isin(carried.weeks)).sum())
    worth_starting = min(workers, days // DAYS_OF_A_PROCESS)
    return Processes(worth_starting) if worth_starting > 1 else Threads(1)


def _carried_over(
    plan: PlanFolder, unchanged: Unchanged | None, outputs: Sequence[Output], fresh: Path
) -> Carried:
    """Carry papers over from an older publication, and say of which crew-days."""
    if unchanged is None:
        return Carried()
    papers = [paper for output in outputs for paper in output.papers if paper.carried]
    carried = what_to_carry(plan, unchanged, papers)
    carry_over(plan, unchanged.folder, carried, papers, fresh)
    return carried


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
