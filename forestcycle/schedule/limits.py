"""Money and ward shares of a plan: what it uses, and how to get within them."""

from collections.abc import Sequence

import numpy as np

from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem

SHARE_TOLERANCE = 1e-9


def cost_of(problem: Problem, crew_days: IntArray, trees: IntArray) -> int:
    """Cents of the trees' visits and of the crew-days used.

    Parameters
    ----------
    problem : Problem
    crew_days : (k,) int64
        Each once.
    trees : (m,) int64
        Positions in the problem's arrays.

    Returns
    -------
    int
    """
    return int(problem.cost_cents[trees].sum() + problem.day_cost_cents[crew_days].sum())


def money_left(problem: Problem, plan: Plan) -> float:
    """Cents of the budget that a plan does not spend.

    Parameters
    ----------
    problem : Problem
    plan : Plan

    Returns
    -------
    float
        Infinite without a budget.
    """
    if problem.budget_cents is None:
        return np.inf
    return float(problem.budget_cents - cost_of(problem, np.unique(plan.crew_day), plan.tree))


def affordable(problem: Problem) -> BoolArray:
    """Whether budget and fund could pay for each tree if nothing else were done, shape (n,).

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    (n,) bool
    """
    left = np.full(problem.trees, np.iinfo(np.int64).max)
    if problem.budget_cents is not None:
        left[:] = problem.budget_cents - problem.day_cost_cents.min()
    funded = problem.fund >= 0
    left[funded] = np.minimum(left[funded], problem.fund_budget_cents[problem.fund[funded]])
    return np.asarray(problem.cost_cents <= left, dtype=np.bool_)


def within_limits(problem: Problem, crew_days: IntArray, trees: IntArray) -> bool:
    """Whether a plan keeps the budget, the funds and the ward shares.

    Parameters
    ----------
    problem : Problem
    crew_days : (k,) int64
        Those that have a stop.
    trees : (s,) int64
        Those that are visited.

    Returns
    -------
    bool
    """
    budget = problem.budget_cents
    if budget is not None and cost_of(problem, crew_days, trees) > budget:
        return False
    spent = _per_label(problem.fund, problem.cost_cents, trees, len(problem.fund_budget_cents))
    if (spent > problem.fund_budget_cents).any():
        return False
    return bool((_ward_surplus(problem, trees) >= -SHARE_TOLERANCE).all())


def trim(problem: Problem, routes: Sequence[IntArray]) -> list[IntArray]:
    """Leave out trees until the budget, the funds and the ward shares are kept.

    Trees that bring the least worth for what they take go first, and crew-days
    that are not worth their money go whole. Mandatory trees stay as long as
    others can go.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (s,) int64
        Trees of each crew-day, in order.

    Returns
    -------
    list of (s,) int64
        In the same order; feasible where ``routes`` was, as a shorter route
        takes no longer.
    """
    kept = np.zeros(problem.trees, dtype=np.bool_)
    kept[np.concatenate([np.empty(0, dtype=np.int64), *routes])] = True
    worth = np.where(problem.mandatory, np.inf, problem.worth)
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        _drop(kept, problem.fund == fund, worth, problem.cost_cents.astype(np.float64), limit)
    if problem.budget_cents is not None:
        _drop_days(problem, kept, routes, problem.budget_cents)
        _drop_unpayable_days(problem, kept, routes, problem.budget_cents)
        days = [day for day, route in enumerate(routes) if kept[route].any()]
        left = problem.budget_cents - int(problem.day_cost_cents[days].sum())
        _drop(kept, kept.copy(), worth, problem.cost_cents.astype(np.float64), left)
    while _drop_for_wards(problem, kept, worth):
        pass
    return [route[kept[route]] for route in routes]


def _drop(
    kept: BoolArray, among: BoolArray, worth: FloatArray, takes: FloatArray, limit: float
) -> None:
    """Drop the trees of least worth per unit until what is taken is within the limit."""
    trees = np.flatnonzero(kept & among & (takes > 0))
    trees = trees[np.argsort(worth[trees] / takes[trees], kind="stable")]
    excess = takes[trees].sum() - limit
    if excess > 0:
        dropped = np.cumsum(takes[trees]) - takes[trees] < excess
        kept[trees[dropped]] = False


def _drop_for_wards(problem: Problem, kept: BoolArray, worth: FloatArray) -> bool:
    """Drop trees elsewhere until the most neglected ward has its share; False if all have."""
    surplus = _ward_surplus(problem, np.flatnonzero(kept))
    if not len(surplus) or surplus.min() >= -SHARE_TOLERANCE:
        return False
    ward = int(np.argmin(surplus))
    minutes = problem.service_minutes
    own = float(minutes[kept & (problem.ward == ward)].sum())
    most_elsewhere = own / problem.ward_least_share[ward] - own
    _drop(kept, problem.ward != ward, worth, minutes, most_elsewhere)
    return True


def _drop_days(problem: Problem, kept: BoolArray, routes: Sequence[IntArray], budget: int) -> None:
    """Drop whole crew-days of least worth per cent while that is the cheaper way to save."""
    trees = [route[kept[route]] for route in routes]
    cost = np.array(
        [
            float(cost_of(problem, np.array([day]), route)) if len(route) else 0.0
            for day, route in enumerate(trees)
        ]
    )
    worth = np.array([problem.worth[route].sum() for route in trees])
    fixed = np.array([problem.mandatory[route].any() for route in trees], dtype=np.bool_)
    excess = cost.sum() - budget
    for day in np.argsort(worth / np.maximum(cost, 1e-9), kind="stable"):
        if cost[day] > 0 and problem.day_cost_cents[day] > 0 and not fixed[day]:
            if excess <= 0:
                break
            if excess < cost[day] and _worth_of(problem, kept, excess) <= worth[day]:
                break
            kept[trees[day]] = False
            excess -= cost[day]


def _drop_unpayable_days(
    problem: Problem, kept: BoolArray, routes: Sequence[IntArray], budget: int
) -> None:
    """Drop crew-days with mandatory trees too, those of fewest for the money, if all cost more."""
    price = problem.day_cost_cents
    days = np.flatnonzero([kept[route].any() for route in routes])
    promised = np.array([(kept & problem.mandatory)[routes[day]].sum() for day in days.tolist()])
    excess = int(price[days].sum()) - budget
    for day in days[np.argsort(promised / np.maximum(price[days], 1e-9), kind="stable")].tolist():
        if excess > 0 and price[day] > 0:
            kept[routes[day]] = False
            excess -= int(price[day])


def _worth_of(problem: Problem, kept: BoolArray, excess: float) -> float:
    """Worth lost by saving money through leaving out trees one by one."""
    worth = np.where(problem.mandatory, np.inf, problem.worth)
    left = kept.copy()
    total = float(problem.cost_cents[kept].sum())
    if total < excess:
        return np.inf
    _drop(left, kept, worth, problem.cost_cents.astype(np.float64), total - excess)
    return float(worth[kept & ~left].sum())


def _per_label(label: IntArray, amount: IntArray, trees: IntArray, count: int) -> IntArray:
    """Sum of an integer amount over the trees of each label."""
    total = np.zeros(count, dtype=np.int64)
    trees = trees[label[trees] >= 0]
    np.add.at(total, label[trees], amount[trees])
    return total


def _ward_surplus(problem: Problem, trees: IntArray) -> FloatArray:
    """Service minutes of each ward beyond its least share of all of them."""
    minutes, ward = problem.service_minutes[trees], problem.ward[trees]
    wards = len(problem.ward_least_share)
    own = np.bincount(ward[ward >= 0], weights=minutes[ward >= 0], minlength=wards)
    return np.asarray(own - problem.ward_least_share * minutes.sum(), dtype=np.float64)
