"""Revise a plan in force: the least change that is worth it.

What is done stays, and so does every visit that still can, unless taking it
elsewhere gains more worth than the stated price of the move. Only crew-days
that a change concerns are packed again: those with new room, and those near
visits that have lost their place.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from forestcycle.errors import Fault, PlanError
from forestcycle.progress import Step
from forestcycle.schedule.cluster import warm_up
from forestcycle.schedule.limits import cost_of
from forestcycle.schedule.mandatory import make_room, missing_mandatory, shortest_visit
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.revise_order import in_old_order
from forestcycle.schedule.revise_place import placed
from forestcycle.schedule.revise_search import Limits, MoneyPrices, Scene, repack
from forestcycle.schedule.revise_standing import Standing, narrowed
from forestcycle.schedule.revise_start import (
    affected_days,
    asking,
    still_possible,
    valued,
)
from forestcycle.schedule.revise_worth import Judge, MovePrices

SHARE_BEFORE_THE_SEARCH = 0.5
"""Of the time for the search, at most, to fill gaps first."""


@dataclass(frozen=True)
class Revised:
    """A revised plan.

    Attributes
    ----------
    routes : list of (s,) int64
        Trees of every crew-day in order, those of the past being what was done.
    dropped_only : list of (s,) int64
        The plan that only drops what can no longer be, to compare with.
    value, value_dropped_only : float
        Worth of either less the price of its moves.
    days_repacked, rounds : int
    interrupted : bool
    """

    routes: list[IntArray]
    dropped_only: list[IntArray]
    value: float
    value_dropped_only: float
    days_repacked: int
    rounds: int
    interrupted: bool


def revise(
    problem: Problem,
    standing: Standing,
    prices: MovePrices,
    money: MoneyPrices,
    limits: Limits,
    *,
    tree_ids: Sequence[str] | None = None,
    funds: Sequence[str] | None = None,
) -> Revised:
    """Find the plan of most worth less the price of moves, near the one in force.

    Parameters
    ----------
    problem : Problem
        As the facts are now; the past and what is done are in it.
    standing : Standing
        The plan in force, what is done, and locks.
    prices : MovePrices
    money : MoneyPrices
        Of the plan in force.
    limits : Limits
    tree_ids : sequence of str, optional
        Names of the inventory's trees, for messages.
    funds : sequence of str, optional
        Names of the funds, for messages.

    Returns
    -------
    Revised
        Where nothing has changed, the plan in force.

    Raises
    ------
    PlanError
        If what is done has cost more than there is, or a mandatory or locked
        visit finds no room.
    """
    narrow, home = narrowed(problem, standing), standing.home(problem)
    judge = Judge(problem, standing, prices)
    _refuse_overspent(problem, standing, home, funds)
    kept = still_possible(valued(narrow, standing, prices.other_day), standing, home)
    scene = Scene(narrow, standing, home, judge, money, asking(narrow, standing, kept))
    days = affected_days(narrow, standing, home, kept, scene.asking)
    routes, rounds = kept, 0
    if len(days):
        limits.progress(Step("preparing the search (takes a minute on its first run)"))
        warm_up()
        limits.start()
        limits.progress(Step("filling gaps"))
        start = placed(scene, kept, limits, seconds=limits.left * SHARE_BEFORE_THE_SEARCH)
        days = _to_repack(scene, kept, start)
        routes, rounds = repack(scene, start, days, limits)
        routes = _still_placed(scene, routes, limits)
    routes = _keep_promises(narrow, standing, home, routes, tree_ids)
    return Revised(
        routes=routes,
        dropped_only=kept,
        value=judge.value(routes),
        value_dropped_only=judge.value(kept),
        days_repacked=len(days),
        rounds=rounds,
        interrupted=limits.interrupted,
    )


def _to_repack(scene: Scene, kept: list[IntArray], placed: list[IntArray]) -> IntArray:
    """Crew-days that are filled further, and those near trees for which no gap was found."""
    out = asking(scene.problem, scene.standing, placed)
    days = affected_days(scene.problem, scene.standing, scene.home, placed, out)
    filled = [day for day, route in enumerate(placed) if len(route) > len(kept[day])]
    return np.union1d(days, np.array(filled, dtype=np.int64))


def _still_placed(scene: Scene, routes: list[IntArray], limits: Limits) -> list[IntArray]:
    """Fill the gaps that the search left or made, which its clock may have ended before."""
    if limits.interrupted:
        return routes
    rest = replace(scene, asking=asking(scene.problem, scene.standing, routes))
    return placed(rest, routes, limits, seconds=limits.left_at_last, thorough=True)


def _refuse_overspent(
    problem: Problem, standing: Standing, home: IntArray, funds: Sequence[str] | None
) -> None:
    """Refuse a budget or fund that is below what has been spent already.

    What was spent beside the plan is taken off the limits already.
    """
    done = np.flatnonzero(standing.done)
    spent = cost_of(problem, np.unique(home[done]), done)
    faults = []
    if problem.budget_cents is not None and spent > problem.budget_cents:
        faults.append(_overspent("budget.year_cents", spent - problem.budget_cents))
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        of_fund = int(problem.cost_cents[done][problem.fund[done] == fund].sum())
        if of_fund > limit:
            name = f", number {fund + 1}" if funds is None else f".{funds[fund]}"
            faults.append(_overspent(f"budget.fund_cents{name}", of_fund - limit))
    if faults:
        raise PlanError(faults)


def _overspent(where: str, cents: int) -> Fault:
    return Fault(
        f"the visits done have cost {cents / 100:,.2f} more than there is",
        where,
        "no plan can take that back: raise it by so much at least",
    )


def _keep_promises(
    problem: Problem,
    standing: Standing,
    home: IntArray,
    routes: list[IntArray],
    tree_ids: Sequence[str] | None,
) -> list[IntArray]:
    """Make room for mandatory and locked visits left out; refuse if some stay out even so."""
    if not len(missing_mandatory(problem, routes)):
        return routes
    before = routes
    routes = [
        route
        if np.array_equal(route, before[day]) or not len(route)
        else in_old_order(problem, standing, home, day, route)
        for day, route in enumerate(make_room(problem, routes))
    ]
    missing = missing_mandatory(problem, routes)
    if len(missing):
        raise PlanError([_no_room(problem, standing, int(tree), tree_ids) for tree in missing])
    return routes


def _no_room(
    problem: Problem, standing: Standing, tree: int, tree_ids: Sequence[str] | None
) -> Fault:
    row = int(problem.tree[tree])
    name = f"in row {row}" if tree_ids is None else tree_ids[row]
    kind = "locked" if standing.locked[tree] else "mandatory"
    minutes = shortest_visit(problem, tree)
    if np.isinf(minutes):
        what = f"no crew-day ahead is open to {kind} tree {name}"
    else:
        what = (
            f"found no room for {kind} tree {name}: a visit takes {minutes:.0f} minutes "
            "with the way there and back"
        )
    remedy = (
        "take its lock away or lock it to another day"
        if kind == "locked"
        else "if it was visited, record that; else take back the request or change its deadline, "
        "or add crew-days or budget"
    )
    return Fault(what, "locks" if kind == "locked" else "requests", remedy)
