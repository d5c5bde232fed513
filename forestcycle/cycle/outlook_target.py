"""The least budget for targets, from the command line's words to a line of answer."""

import re
from collections.abc import Sequence

from forestcycle.cycle.outlook import CityOutlook
from forestcycle.errors import Fault, PlanError, SettingsError
from forestcycle.outlook import CrewTerms
from forestcycle.outlook.target import PARTS, Target, least_budget
from forestcycle.progress import Progress, silent

WORDS = re.compile(rf"({'|'.join(PARTS)})\s+(\d+(?:\.\d+)?)\s*%\s+by\s+(\d+)")
MOST_TIMES = 3
"""Targets are sought up to so many times the present budget."""


def read_targets(texts: Sequence[str]) -> list[Target]:
    """Read targets such as ``young on recall 90% by 5``.

    Parameters
    ----------
    texts : sequence of str

    Returns
    -------
    list of Target

    Raises
    ------
    SettingsError
        With one fault per target that cannot be read or met by any number of trees.
    """
    found, faults = [], []
    for text in texts:
        match = WORDS.fullmatch(text.strip())
        if match is None or float(match[2]) > 100:
            remedy = "write 'young on recall 90% by 5' or 'on recall 80% by 10'"
            faults.append(Fault(f"{text!r} is not a target", "--target", remedy))
        else:
            found.append(Target(match[1], float(match[2]) / 100, int(match[3])))
    if faults:
        raise SettingsError(faults)
    return found


def least_money(
    found: CityOutlook, targets: list[Target], *, progress: Progress = silent
) -> tuple[int, str]:
    """Return the least money a year that reaches all targets, and a line that says so.

    Parameters
    ----------
    found : CityOutlook
    targets : list of Target
    progress : Progress, optional

    Returns
    -------
    cents : int
    line : str

    Raises
    ------
    PlanError
        Where no money up to three times the present budget reaches a target.
    """
    if found.present_cents is None:
        raise PlanError(
            Fault("crew-days cost nothing", "--target", "set day_cost_cents or budget.year_cents")
        )
    settings = found.city.settings
    rules = settings.outlook
    best = least_budget(
        found.horizon,
        targets,
        most_cents=MOST_TIMES * found.present_cents,
        years=found.plans[0].trajectory.years,
        beyond=rules.years_beyond,
        terms=CrewTerms(years=rules.crew_years, least_paid=rules.crew_days_paid),
        progress=progress,
    )
    cents = int(best.budget.of_years(1)[0])
    wanted = " and ".join(str(target) for target in targets)
    share = cents / found.present_cents
    return cents, (
        f"least budget for {wanted}: about {cents / 100:,.0f} {settings.city.currency} a year, "
        f"{share:.0%} of the present one"
    )
