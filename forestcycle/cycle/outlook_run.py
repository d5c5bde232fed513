"""Look years ahead with all that may be asked for, and write down what is found."""

from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from forestcycle.cycle.city import City
from forestcycle.cycle.outlook import CityOutlook, outlook_of
from forestcycle.cycle.outlook_chances import spreads_of, with_cycles, with_draws
from forestcycle.cycle.outlook_files import write_outlook
from forestcycle.cycle.outlook_target import read_targets, with_targets
from forestcycle.errors import PlanError
from forestcycle.outlook.target import Target
from forestcycle.parallel import KeptResults, open_executor
from forestcycle.progress import Progress, silent
from forestcycle.publish.outlook_figures import OutlookFigures


def write_outlook_of(
    city: City,
    out: Path,
    *,
    years: int,
    budgets: str,
    plan: Path | None = None,
    targets: Sequence[str] = (),
    draws: int = 0,
    cycles: bool = False,
    seed: int = 1,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Progress = silent,
) -> tuple[CityOutlook, OutlookFigures]:
    """Work out an outlook and write it; what is found by then is written whatever stops the rest.

    Parameters
    ----------
    city : City
    out : Path
        Folder; keeps draws in ``kept``, so that the same call goes on after an interruption.
    years, budgets, plan
        As for :func:`forestcycle.cycle.outlook.outlook_of`.
    targets : sequence of str
        For the least budget; see :func:`forestcycle.cycle.outlook_target.read_targets`.
    draws : int
        Played for intervals.
    cycles : bool
        Whether pruning cycles of several lengths are compared.
    seed : int
        Of the draws.
    workers : int, optional
        Processes of this machine; one per core by default.
    cluster : str, optional
        Address of a Dask scheduler instead.
    progress : Progress, optional

    Returns
    -------
    found : CityOutlook
    figures : OutlookFigures
        As written.

    Raises
    ------
    SettingsError, StoreError, WorkerError
    PlanError
        Where a target is out of reach; all else is written before.
    """
    wanted = read_targets(targets, years=years)
    with ExitStack() as stack:
        executor = None
        if draws:  # a cluster that is not there, a table that does not fit: before the long work
            executor = stack.enter_context(open_executor(cluster, workers=workers))
            spreads_of(city)
        found = outlook_of(city, years=years, budgets=budgets, plan=plan, progress=progress)
        missed = None
        try:
            if cycles:
                found = with_cycles(found, progress=progress)
            found, missed = _with_least(found, wanted, progress)
            if executor is not None:
                kept = KeptResults(out / "kept")
                found = with_draws(
                    found, executor, draws=draws, seed=seed, kept=kept, progress=progress
                )
        finally:
            figures = write_outlook(found, out)
    if missed is not None:
        raise missed
    return found, figures


def _with_least(
    found: CityOutlook, targets: list[Target], progress: Progress
) -> tuple[CityOutlook, PlanError | None]:
    """Find the least budget; where there is none, intervals are worth having all the same."""
    if not targets:
        return found, None
    try:
        return with_targets(found, targets, progress=progress), None
    except PlanError as error:
        return found, error
