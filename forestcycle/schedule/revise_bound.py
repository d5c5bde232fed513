"""An upper limit on what can still become of a year under way.

What is done is done: its worth is added as it stands. The rest is bounded from
the crew-days ahead, the trees not yet visited and the money not yet spent, at
the prices of the plan in force. Any prices that are not negative prove a limit,
so these do too; where the rest is small enough, better ones are worked out.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from forestcycle.schedule.bound import Bound, allocate, bound_at
from forestcycle.schedule.group import crew_day_groups
from forestcycle.schedule.prices import Prices
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.subset import subset

MOST_TREES_PRICED_ANEW = 15_000


@dataclass(frozen=True)
class Rest:
    """What is still open of a problem.

    Attributes
    ----------
    problem : Problem
        Crew-days ahead, trees not done, money not spent.
    trees : (n,) bool
    crew_days : (c,) bool
        Which of the whole problem's are in it.
    done_worth : float
    """

    problem: Problem
    trees: BoolArray
    crew_days: BoolArray
    done_worth: float


@dataclass(frozen=True)
class PricesInForce:
    """Prices behind the bound of the plan in force.

    Attributes
    ----------
    minute, stop_minute : (c,) float64
        Of each crew-day of the new problem, NaN where the plan had none.
    cent : float
    fund_cent : (f,) float64
    ward_minute : (r,) float64
    promised : bool
    """

    minute: FloatArray
    stop_minute: FloatArray
    cent: float
    fund_cent: FloatArray
    ward_minute: FloatArray
    promised: bool


def rest_of(problem: Problem, done: Mapping[int, IntArray], past: BoolArray) -> Rest:
    """Take what is done and past out of a problem.

    Parameters
    ----------
    problem : Problem
    done : mapping of int to (s,) int64
        Trees visited, by crew-day.
    past : (c,) bool

    Returns
    -------
    Rest
    """
    visited = np.concatenate([np.empty(0, dtype=np.int64), *done.values()])
    open_trees = np.ones(problem.trees, dtype=np.bool_)
    open_trees[visited] = False
    days = [day for day, trees in done.items() if len(trees) and past[day]]
    spent = int(problem.cost_cents[visited].sum() + problem.day_cost_cents[days].sum())
    fund = problem.fund[visited]
    by_fund = np.bincount(
        fund[fund >= 0],
        weights=problem.cost_cents[visited][fund >= 0],
        minlength=len(problem.fund_budget_cents),
    ).astype(np.int64)
    budget = problem.budget_cents
    smaller = replace(
        subset(problem, trees=open_trees, crew_days=~past),
        budget_cents=None if budget is None else max(0, budget - spent),
        fund_budget_cents=np.maximum(0, problem.fund_budget_cents - by_fund),
    )
    return Rest(smaller, open_trees, ~past, float(problem.worth[visited].sum()))


def bound_of_rest(problem: Problem, rest: Rest, known: PricesInForce) -> Bound:
    """Bound what can become of the whole year, the visits done counted in.

    Parameters
    ----------
    problem : Problem
        The whole one.
    rest : Rest
    known : PricesInForce

    Returns
    -------
    Bound
        ``groups`` are of the rest's crew-days; ``surplus`` and ``best_group``
        are by the whole problem's trees.
    """
    small = rest.problem.trees <= MOST_TREES_PRICED_ANEW
    bound = allocate(rest.problem) if small else _at_known_prices(rest, known)
    surplus, group = np.zeros(problem.trees), np.full(problem.trees, -1, dtype=np.int64)
    surplus[rest.trees], group[rest.trees] = bound.surplus, bound.best_group
    rows = np.flatnonzero(rest.trees)
    return replace(
        bound,
        value=bound.value + rest.done_worth + _owed_to_wards(problem, rest, bound.prices),
        surplus=surplus,
        best_group=group,
        allocation=replace(bound.allocation, tree=rows[bound.allocation.tree]),
        unreachable=rows[bound.unreachable],
    )


def _owed_to_wards(problem: Problem, rest: Rest, prices: Prices) -> float:
    """Price what the minutes done count towards the wards' shares."""
    done = ~rest.trees
    ward_minute = np.append(prices.ward_minute, 0.0)[problem.ward[done]]
    owed = ward_minute - float(prices.ward_minute @ problem.ward_least_share)
    return float(problem.service_minutes[done] @ owed)


def _at_known_prices(rest: Rest, known: PricesInForce) -> Bound:
    """Bound at the prices in force; a crew-day without one gets the mean of the others."""
    groups = crew_day_groups(rest.problem)
    of_day, count = groups.of_crew_day, groups.count
    prices = Prices(
        minute=_by_group(known.minute[rest.crew_days], of_day, count),
        stop_minute=_by_group(known.stop_minute[rest.crew_days], of_day, count),
        cent=known.cent if rest.problem.budget_cents is not None else 0.0,
        fund_cent=known.fund_cent,
        ward_minute=known.ward_minute,
        promised=known.promised,
    )
    return bound_at(rest.problem, groups, prices)


def _by_group(price: FloatArray, group: IntArray, count: int) -> FloatArray:
    known = ~np.isnan(price)
    total = np.bincount(group[known], weights=price[known], minlength=count)
    days = np.bincount(group[known], minlength=count)
    overall = float(price[known].mean()) if known.any() else 0.0
    return np.where(days > 0, total / np.maximum(days, 1), overall)
