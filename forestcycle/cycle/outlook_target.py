"""The least budget for targets, from the command line's words to the answer."""

import re
from collections.abc import Sequence
from dataclasses import replace

from forestcycle.cycle.outlook import CityOutlook, LeastBudget
from forestcycle.errors import Fault, PlanError, SettingsError
from forestcycle.outlook import CrewTerms
from forestcycle.outlook.target import HALVINGS, PARTS, Target, beyond_horizon, least_budget
from forestcycle.progress import Progress, silent

WORDS = re.compile(rf"({'|'.join(PARTS)})\s+(\d+(?:\.\d+)?)\s*%\s+by\s+(\d+)")
MOST_TIMES = 3
"""Targets are sought up to so many times the present budget."""


def read_targets(texts: Sequence[str], *, years: int) -> list[Target]:
    """Read targets such as ``young on recall 90% by 5``.

    Parameters
    ----------
    texts : sequence of str
    years : int
        How far ahead is looked.

    Returns
    -------
    list of Target

    Raises
    ------
    SettingsError
        With one fault per target that cannot be read met by any number of trees,
        or whose year is not looked at.
    """
    found, faults = [], []
    for text in texts:
        match = WORDS.fullmatch(text.strip())
        if match is None or float(match[2]) > 100:
            remedy = "write 'young on recall 90% by 5' or 'on recall 80% by 10'"
            faults.append(Fault(f"{text!r} is not a target", "--target", remedy))
        else:
            found.append(Target(match[1], float(match[2]) / 100, int(match[3])))
    faults += beyond_horizon(found, years)
    if faults:
        raise SettingsError(faults)
    return found


def with_targets(
    found: CityOutlook, targets: list[Target], *, progress: Progress = silent
) -> CityOutlook:
    """Find the least money a year that reaches all targets.

    Parameters
    ----------
    found : CityOutlook
    targets : list of Target
    progress : Progress, optional

    Returns
    -------
    CityOutlook
        With ``least``.

    Raises
    ------
    PlanError
        Where no money up to three times the present budget reaches a target.
    """
    if found.present_cents is None:
        raise PlanError(
            Fault("crew-days cost nothing", "--target", "set day_cost_cents or budget.year_cents")
        )
    rules = found.city.settings.outlook
    most = MOST_TIMES * found.present_cents
    best = least_budget(
        found.horizon,
        targets,
        most_cents=most,
        years=found.plans[0].trajectory.years,
        beyond=rules.years_beyond,
        terms=CrewTerms(years=rules.crew_years, least_paid=rules.crew_days_paid),
        progress=progress,
    )
    cents = int(best.budget.of_years(1)[0])
    answer = LeastBudget(
        targets=tuple(targets),
        plan=best,
        cents_a_year=cents,
        known_to_cents=most // 2**HALVINGS,
        share_of_present=round(cents / found.present_cents, 4),
    )
    return replace(found, least=answer)
