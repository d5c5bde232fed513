"""Add to an outlook how differently it may turn out, and what the cycle's length costs."""

from collections.abc import Sequence
from dataclasses import replace

from forestcycle.cycle.city import City
from forestcycle.cycle.outlook import CityOutlook, LeastBudget
from forestcycle.outlook import HorizonPlan
from forestcycle.outlook.interval_study import interval_study, worth_of_a_cent
from forestcycle.outlook.intervals import intervals
from forestcycle.outlook.spreads import Spread, load_spreads
from forestcycle.outlook.uncertainty import Played, play_draws
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
        With ``intervals`` and ``draws``, and in how many of them the targets are met; as it
        was if Ctrl-C came before the first draw.
    """
    least = found.least
    drawn = play_draws(
        found.horizon,
        found.plans if least is None else [*found.plans, least.plan],
        executor,
        draws=draws,
        seed=seed,
        spreads=spreads_of(found.city),
        targets=() if least is None else least.targets,
        kept=kept,
        progress=progress,
    )
    if not drawn:
        return found
    return replace(
        found,
        intervals=intervals(found.plans, drawn, first_year=found.first_year),
        draws=len(drawn),
        least=None if least is None else replace(least, met=_met(found.plans, least, drawn)),
    )


def _met(
    plans: Sequence[HorizonPlan], least: LeastBudget, drawn: Sequence[Sequence[Played]]
) -> dict[str, int]:
    """Count by budget the draws in which all targets are met."""
    names = [plan.budget.name for plan in (*plans, least.plan)]
    return {name: sum(draw[place]["met"] for draw in drawn) for place, name in enumerate(names)}


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
