"""What the mandatory visits lack: money of a fund, a budget, or crew-days.

Claims of "the least" are proven; where only "would do" is said, a plan was found.
"""

from collections.abc import Sequence

import numpy as np

from forestcycle.schedule.limits import cost_of
from forestcycle.schedule.mandatory import missing_mandatory
from forestcycle.schedule.one_model import MOST_ARCS, Answer, Goal, arcs_of, solve_as_one
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.promised_alone import (
    WORK,
    as_many_days_as_trees,
    enough_days,
    kinds_of_days,
    promised,
    without_limits,
)
from forestcycle.schedule.subset import subset

MOST_EXTRA_DAYS = 4
MOST_EXTRA_KINDS = 8
OR_LESS = "or take back a request"


def what_would_do(problem: Problem, alone: Answer, routes: Sequence[IntArray]) -> str:
    """Say what would make room for all mandatory visits.

    Parameters
    ----------
    problem : Problem
    alone : Answer
        Of :func:`promised_alone <forestcycle.schedule.promised_alone.promised_alone>`.
    routes : sequence of (s,) int64
        A plan in which some have no room.

    Returns
    -------
    str
    """
    said = _funds_needed(problem)
    if not said and alone.routes is not None:
        said = _budget_needed(problem, alone)
    if not said and alone.none_exists:
        said = _least_crew_days(problem, len(missing_mandatory(problem, routes)))
    return f"{said or _enough(problem, routes)}; {OR_LESS}"


def as_money(cents: float) -> str:
    """Write an amount.

    Parameters
    ----------
    cents : float

    Returns
    -------
    str
    """
    return f"{cents / 100:,.2f}"


def _funds_needed(problem: Problem) -> str:
    """Name what mandatory visits cost of each fund that cannot pay them."""
    told = []
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        needed = int(problem.cost_cents[problem.mandatory & (problem.fund == fund)].sum())
        if needed > limit:
            told.append(
                f"fund {fund + 1} of budget.fund_cents must pay {as_money(needed)} for mandatory "
                f"visits, {as_money(limit)} is given"
            )
    return "; ".join(told)


def _budget_needed(problem: Problem, alone: Answer) -> str:
    """Name the budget for the cheapest plan of the mandatory trees, where it is lacking."""
    given = problem.budget_cents
    if given is None or alone.value <= given:
        return ""
    if alone.proven >= alone.value:
        return (
            f"a budget of {as_money(alone.value)} would do and is the least for the mandatory "
            f"visits, {as_money(given)} is given"
        )
    return (
        f"a budget of {as_money(alone.value)} would do, at least {as_money(alone.proven)} "
        f"is needed, {as_money(given)} is given"
    )


def _least_crew_days(problem: Problem, missing: int) -> str:
    """Count the fewest crew-days that would do, added as second crews on days that there are."""
    must = promised(without_limits(problem))
    must = subset(must, crew_days=as_many_days_as_trees(must))
    kinds = kinds_of_days(must)
    copies = min(missing, MOST_EXTRA_DAYS)
    extra = np.repeat(kinds[:MOST_EXTRA_KINDS], copies)
    rows = np.concatenate([np.arange(must.crew_days), extra])
    wider = subset(must, crew_days=rows)
    if arcs_of(wider) > MOST_ARCS:
        return ""
    found = solve_as_one(wider, Goal.CREW_DAYS, work=WORK, extra=range(must.crew_days, len(rows)))
    if found.routes is None:
        return ""
    count = int(found.value)
    used = np.flatnonzero([len(route) > 0 for route in found.routes])
    cents = cost_of(wider, used, np.concatenate(found.routes))
    all_tried = len(kinds) <= MOST_EXTRA_KINDS and count <= copies
    proven = all_tried and found.proven >= found.value
    return _would_do(problem, count, cents) + (" and no fewer" if proven else "")


def _enough(problem: Problem, routes: Sequence[IntArray]) -> str:
    """Say what was found to do, though it may not be the least, and what any plan takes."""
    at_least = _at_least(problem)
    enough = enough_days(problem, routes)
    if enough is None:
        return f"{at_least}; add crew-days or budget"
    budget = problem.budget_cents
    if not enough.extra and (budget is None or enough.cents <= budget):
        return "with the shares of plan.ward_least_share no plan was found: lower one"
    return f"{_would_do(problem, enough.extra, enough.cents)}; {at_least}"


def _would_do(problem: Problem, days: int, cents: int) -> str:
    """Say which crew-days and which budget are enough, as far as they are lacking."""
    lacking = []
    if days:
        lacking.append(f"{days:,} more crew-day{'s' if days != 1 else ''} like those there are")
    if problem.budget_cents is not None and cents > problem.budget_cents:
        lacking.append(f"a budget of {as_money(cents)} instead of {as_money(problem.budget_cents)}")
    return f"{' and '.join(lacking)} would do"


def _at_least(problem: Problem) -> str:
    """Say what holds of any plan."""
    minutes = float(problem.service_minutes[problem.mandatory].sum())
    days = int(np.ceil(minutes / problem.capacity_minutes.max() - 1e-9))
    cents = int(problem.cost_cents[problem.mandatory].sum())
    cents += int(np.sort(problem.day_cost_cents)[:days].sum())
    return (
        f"all mandatory visits together take at least {days:,} crew-day{'s' if days != 1 else ''} "
        f"and {as_money(cents)}"
    )
