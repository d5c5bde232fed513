"""Add to an outlook what may come otherwise, and what the cycle's length costs."""

from dataclasses import replace

from forestcycle.cycle.city import City
from forestcycle.cycle.outlook import CityOutlook
from forestcycle.outlook.interval_study import interval_study, worth_of_a_cent
from forestcycle.outlook.uncertainty import Spread, interval_table, load_spreads
from forestcycle.parallel import Executor, KeptResults
from forestcycle.practice.installed import tables_folder
from forestcycle.progress import Progress, silent


def spreads_of(city: City) -> dict[str, Spread]:
    """Load how the chances vary in a city, from its own table or ours.

    Parameters
    ----------
    city : City

    Returns
    -------
    dict of str to Spread

    Raises
    ------
    SettingsError
        Where a table does not fit.
    """
    return load_spreads(folder=tables_folder(city.settings.practice.tables, city.folder))


def with_draws(
    found: CityOutlook,
    executor: Executor,
    *,
    draws: int,
    seed: int = 1,
    kept: KeptResults | None = None,
    progress: Progress = silent,
) -> CityOutlook:
    """Play draws of growth, faults, crew time and storms.

    Parameters
    ----------
    found : CityOutlook
    executor : Executor
        Who plays them.
    draws : int
        1 or more.
    seed : int
        The same seed gives the same intervals, whoever plays.
    kept : KeptResults, optional
        Where draws are kept as soon as they are played.
    progress : Progress, optional

    Returns
    -------
    CityOutlook
        With ``intervals`` and ``draws``; as it was if Ctrl-C came before the first draw.
    """
    table, played = interval_table(
        found.horizon,
        found.plans,
        executor,
        draws=draws,
        seed=seed,
        first_year=found.first_year,
        spreads=spreads_of(found.city),
        kept=kept,
        progress=progress,
    )
    return replace(found, intervals=table, draws=played) if played else found


def with_cycles(found: CityOutlook, *, progress: Progress = silent) -> CityOutlook:
    """Walk the city through pruning cycles of several lengths.

    Parameters
    ----------
    found : CityOutlook
    progress : Progress, optional

    Returns
    -------
    CityOutlook
        With ``cycles``; waiting is weighed as the present budget's plan does,
        or the first one's.
    """
    present = found.present_cents
    plan = next((each for each in found.plans if each.budget.cents == (present,)), found.plans[0])
    study = interval_study(found.horizon, worth_per_cent=worth_of_a_cent(plan), progress=progress)
    return replace(found, cycles=study)
