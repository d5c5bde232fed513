"""Mandatory visits that the search found no room for.

First room is made at the cost of other trees. Where that is not enough, the
mandatory trees alone are planned anew: all of them where they are few, else those
of some neighbouring crew-days. If even so some are left out, it is said which,
and what would do: a budget, or the crew-days lacking.
"""

from collections.abc import Sequence

import numpy as np

from forestcycle.errors import Fault, PlanError
from forestcycle.schedule.draft import Draft
from forestcycle.schedule.limits import trim, within_limits
from forestcycle.schedule.mandatory import (
    days_to_try,
    inserted,
    make_room,
    missing_mandatory,
    shortest_visit,
)
from forestcycle.schedule.one_model import MOST_ARCS, Goal, arcs_of, solve_as_one
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.promised_alone import (
    WORK,
    enough_days,
    promised_alone,
    without_limits,
)
from forestcycle.schedule.subset import subset
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.what_would_do import as_money, what_would_do

NEIGHBOURHOODS = (2, 4, 8)
MOST_DAYS_TRIED = 8
MOST_REARRANGED = 20
"""More mandatory trees without room than this are no matter of a better order."""


def keep_promises(
    problem: Problem, routes: Sequence[IntArray], tree_ids: Sequence[str] | None
) -> list[IntArray]:
    """Visit every mandatory tree.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (s,) int64
        Trees of each crew-day in order, within all limits.
    tree_ids : sequence of str, optional
        Names of the inventory's trees.

    Returns
    -------
    list of (s,) int64
        Within all limits, with every mandatory tree.

    Raises
    ------
    PlanError
        With one fault per mandatory tree without room, and what would do.
    """
    kept = list(routes)
    if not len(missing_mandatory(problem, kept)):
        return kept
    kept = make_room(problem, kept)
    missing = missing_mandatory(problem, kept)
    enough = enough_days(problem, kept)
    if enough is not None and not enough.extra and _keeps_limits(problem, enough.routes):
        return _filled(problem, enough.routes, routes)
    if (enough is None or enough.extra) and len(missing) <= MOST_REARRANGED:
        for tree in missing.tolist():
            kept = _rearranged(problem, kept, tree)
        missing = missing_mandatory(problem, kept)
    if not len(missing):
        return kept
    alone = promised_alone(problem)
    if alone.routes is not None and _keeps_limits(problem, alone.routes):
        return _filled(problem, alone.routes, routes)
    raise PlanError(_refusal(problem, missing, what_would_do(problem, alone, kept), tree_ids))


def _keeps_limits(problem: Problem, routes: Sequence[IntArray]) -> bool:
    used = np.flatnonzero([len(route) > 0 for route in routes])
    return within_limits(problem, used, np.concatenate(routes))


def _filled(
    problem: Problem, routes: Sequence[IntArray], wanted: Sequence[IntArray]
) -> list[IntArray]:
    """Put trees of another plan in as far as time and limits go, the worthiest first."""
    draft = Draft(problem)
    draft.lay(dict(enumerate(routes)))
    day_wanted = np.full(problem.trees, -1, dtype=np.int64)
    for day, route in enumerate(wanted):
        day_wanted[route] = day
    others = np.flatnonzero((day_wanted >= 0) & (draft.day_of_tree < 0))
    for tree in others[np.argsort(-problem.worth[others], kind="stable")].tolist():
        days = days_to_try(problem, draft, tree, wanted=int(day_wanted[tree]))
        for day in days[:MOST_DAYS_TRIED]:
            longer = inserted(problem, day, draft.routes[day], tree)
            if longer is None:
                continue
            trial = [longer if day == at else route for at, route in enumerate(draft.routes)]
            if _keeps_limits(problem, trial):
                draft.lay({day: longer})
                break
    return draft.routes


def _rearranged(problem: Problem, routes: list[IntArray], tree: int) -> list[IntArray]:
    """Plan the mandatory trees of the crew-days around a missing one anew, with it among them."""
    draft = Draft(problem)
    draft.lay(dict(enumerate(routes)))
    every = np.arange(problem.crew_days)
    away = np.hypot(*(draft.centres - [problem.x[tree], problem.y[tree]]).T)
    open_to_it = may_visit(problem, every, np.array([tree]))[:, 0]
    near = np.lexsort([away, ~open_to_it])
    for count in NEIGHBOURHOODS:
        own = near[: count // 2]
        days = np.union1d(own, np.argsort(away, kind="stable")[: count - len(own)])
        changed = _planned_anew(problem, routes, days, tree)
        if changed is not None:
            return changed
    return routes


def _planned_anew(
    problem: Problem, routes: list[IntArray], days: IntArray, tree: int
) -> list[IntArray] | None:
    """Plan some crew-days' mandatory trees and a missing one; other trees where there is room."""
    must = np.zeros(problem.trees, dtype=np.bool_)
    held = np.concatenate([routes[day] for day in days.tolist()])
    must[held[problem.mandatory[held]]] = True
    must[tree] = True
    among = np.zeros(problem.crew_days, dtype=np.bool_)
    among[days] = True
    part = subset(without_limits(problem), trees=must, crew_days=among)
    if arcs_of(part) > MOST_ARCS:
        return None
    found = solve_as_one(part, Goal.CENTS, work=WORK)
    if found.routes is None:
        return None
    changed, trees = list(routes), np.flatnonzero(must)
    for day, route in zip(np.flatnonzero(among).tolist(), found.routes, strict=True):
        changed[day] = trees[route]
    for other in held[~problem.mandatory[held]].tolist():
        _put_back(problem, changed, days, other)
    changed = trim(problem, changed)
    before = len(missing_mandatory(problem, routes))
    return changed if len(missing_mandatory(problem, changed)) < before else None


def _put_back(problem: Problem, routes: list[IntArray], days: IntArray, tree: int) -> None:
    for day in days[may_visit(problem, days, np.array([tree]))[:, 0]].tolist():
        longer = inserted(problem, day, routes[day], tree)
        if longer is not None:
            routes[day] = longer
            return


def _refusal(
    problem: Problem, missing: IntArray, remedy: str, tree_ids: Sequence[str] | None
) -> list[Fault]:
    """One fault per tree; what would do for several of them is said once, and first."""
    if len(missing) == 1:
        return [_no_room(problem, int(missing[0]), remedy, tree_ids)]
    told = f"found no room for {len(missing):,} of {problem.mandatory.sum():,} mandatory trees"
    faults = [_no_room(problem, tree, "", tree_ids) for tree in missing.tolist()]
    return [Fault(told, "requests", remedy), *faults]


def _no_room(problem: Problem, tree: int, remedy: str, tree_ids: Sequence[str] | None) -> Fault:
    row = int(problem.tree[tree])
    name = f"in row {row}" if tree_ids is None else tree_ids[row]
    minutes = shortest_visit(problem, tree)
    if np.isinf(minutes):
        return Fault(
            f"no crew-day can visit mandatory tree {name}: none has its skill, its equipment, an "
            "open date and a way there",
            "requests",
            "change crews, seasons, streets or the deadline, or take back the request",
        )
    return Fault(
        f"found no room for mandatory tree {name} beside the others: a visit takes "
        f"{minutes:.0f} minutes with the way there and back, "
        f"and costs {as_money(problem.cost_cents[tree])} besides the crew-day",
        "requests",
        remedy,
    )
