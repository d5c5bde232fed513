"""Mandatory visits that the search found no room for.

First room is made at the cost of other trees. Where that is not enough, the
mandatory trees alone are planned as one model: all of them where they are few,
else those of some neighbouring crew-days. If even so some are left out, it is
said which, and what would do: the least budget, or the crew-days lacking.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from forestcycle.errors import Fault, PlanError
from forestcycle.schedule.draft import Draft
from forestcycle.schedule.limits import trim, within_limits
from forestcycle.schedule.mandatory import (
    inserted,
    make_room,
    missing_mandatory,
    shortest_visit,
)
from forestcycle.schedule.one_model import MOST_ARCS, Answer, Goal, arcs_of, solve_as_one
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.subset import OF_CREW_DAYS, subset
from forestcycle.schedule.territory import may_visit

WORK = 10.0
MOST_EXTRA_DAYS = 4
MOST_EXTRA_KINDS = 8
NEIGHBOURHOODS = (2, 4, 8)


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
    for tree in missing_mandatory(problem, kept).tolist():
        kept = _rearranged(problem, kept, tree)
    if not len(missing_mandatory(problem, kept)):
        return kept
    alone = promised_alone(problem)
    if alone.routes is not None and _keeps_limits(problem, alone.routes):
        return _filled(problem, alone.routes, routes)
    missing = missing_mandatory(problem, kept)
    remedy = what_would_do(problem, alone, len(missing))
    raise PlanError([_no_room(problem, tree, remedy, tree_ids) for tree in missing.tolist()])


def promised_alone(problem: Problem) -> Answer:
    """Find the cheapest plan of the mandatory trees alone, whatever the budget.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Answer
        In cents; empty-handed where there are too many for one model.
    """
    must = _promised(problem)
    if arcs_of(must) > MOST_ARCS:
        return Answer(None, np.nan, 0.0, none_exists=False)
    answer = solve_as_one(must, Goal.CENTS, work=WORK)
    if answer.routes is None:
        return answer
    trees = np.flatnonzero(problem.mandatory)
    return replace(answer, routes=[trees[route] for route in answer.routes])


def what_would_do(problem: Problem, alone: Answer, missing: int) -> str:
    """Say what the mandatory visits lack: money of a fund, a budget, or crew-days.

    Parameters
    ----------
    problem : Problem
    alone : Answer
        Of :func:`promised_alone`.
    missing : int
        Mandatory trees without room.

    Returns
    -------
    str
        Claims of "the least" are proven; ward shares are left out of account.
    """
    funds = _funds_needed(problem)
    if funds:
        return funds
    if alone.routes is not None and problem.budget_cents is not None:
        exact = alone.proven >= alone.value
        if alone.value > problem.budget_cents and exact:
            return (
                f"a budget of {_money(alone.value)} would do and is the least for the mandatory "
                f"visits, {_money(problem.budget_cents)} is given; or take back a request"
            )
        if alone.value > problem.budget_cents:
            return (
                f"a budget of {_money(alone.value)} would do, at least {_money(alone.proven)} "
                f"is needed, {_money(problem.budget_cents)} is given; or take back a request"
            )
    if alone.none_exists:
        return _crew_days_lacking(problem, missing)
    return _at_least(problem)


def _promised(problem: Problem) -> Problem:
    """Mandatory trees alone, without ward shares."""
    must = subset(problem, trees=problem.mandatory)
    return replace(must, ward_least_share=np.zeros(len(problem.ward_least_share)))


def _keeps_limits(problem: Problem, routes: Sequence[IntArray]) -> bool:
    used = np.flatnonzero([len(route) > 0 for route in routes])
    return within_limits(problem, used, np.concatenate(routes))


def _filled(
    problem: Problem, routes: Sequence[IntArray], wanted: Sequence[IntArray]
) -> list[IntArray]:
    """Put trees of another plan in as far as time and money go, the worthiest first."""
    filled = list(routes)
    there = np.concatenate(filled)
    others = np.setdiff1d(np.concatenate([*wanted, np.empty(0, dtype=np.int64)]), there)
    every = np.arange(problem.crew_days)
    for tree in others[np.argsort(-problem.worth[others], kind="stable")].tolist():
        allowed = every[may_visit(problem, every, np.array([tree]))[:, 0]]
        used_first = allowed[np.argsort([len(filled[day]) == 0 for day in allowed], kind="stable")]
        for day in used_first.tolist():
            longer = inserted(problem, day, filled[day], tree)
            if longer is None:
                continue
            trial = [longer if other == day else route for other, route in enumerate(filled)]
            if _keeps_limits(problem, trial):
                filled = trial
                break
    return filled


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
    part = subset(_without_limits(problem), trees=must, crew_days=among)
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


def _without_limits(problem: Problem) -> Problem:
    return replace(
        problem,
        budget_cents=None,
        fund_budget_cents=np.full_like(problem.fund_budget_cents, np.iinfo(np.int32).max),
        ward_least_share=np.zeros(len(problem.ward_least_share)),
    )


def _funds_needed(problem: Problem) -> str:
    """Name what mandatory visits cost of each fund that cannot pay them."""
    told = []
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        needed = int(problem.cost_cents[problem.mandatory & (problem.fund == fund)].sum())
        if needed > limit:
            told.append(
                f"fund {fund + 1} of budget.fund_cents must pay {_money(needed)} for mandatory "
                f"visits, {_money(limit)} is given"
            )
    return "; ".join([*told, "or take back a request"]) if told else ""


def _crew_days_lacking(problem: Problem, missing: int) -> str:
    """Count the crew-days that would do, added as second crews on days that there are."""
    must = _promised(_without_limits(problem))
    kinds = _kinds_of_days(must)[:MOST_EXTRA_KINDS]
    copies = np.repeat(kinds, min(missing, MOST_EXTRA_DAYS))
    rows = np.concatenate([np.arange(must.crew_days), copies])
    wider = replace(must, **{name: getattr(must, name)[rows] for name in OF_CREW_DAYS})
    if arcs_of(wider) > MOST_ARCS:
        return _at_least(problem)
    extra = list(range(must.crew_days, len(rows)))
    found = solve_as_one(wider, Goal.CREW_DAYS, work=WORK, extra=extra)
    if found.routes is None:
        return "no crew-day like those there are would do; take back a request"
    count = int(found.value)
    days = f"{count} more crew-day{'s' if count != 1 else ''} like those there are would do"
    fewer = " and no fewer" if found.proven >= found.value else ""
    return f"{days}{fewer}; or take back a request"


def _kinds_of_days(problem: Problem) -> IntArray:
    """One crew-day of each kind that differs in what it can reach, longest first."""
    columns = [
        problem.depot,
        problem.crew_skill,
        problem.capacity_minutes,
        problem.start_minute,
        problem.break_after,
        problem.break_minutes,
        *problem.open_on[np.unique(problem.window)][:, problem.date],
    ]
    first = np.unique(np.column_stack(columns), axis=0, return_index=True)[1]
    longest = np.argsort(-problem.capacity_minutes[first], kind="stable")
    return np.asarray(first[longest], dtype=np.int64)


def _at_least(problem: Problem) -> str:
    """Say what holds of any plan, where there are too many mandatory trees for one model."""
    minutes = float(problem.service_minutes[problem.mandatory].sum())
    days = int(np.ceil(minutes / problem.capacity_minutes.max() - 1e-9))
    cents = int(problem.cost_cents[problem.mandatory].sum())
    cents += int(np.sort(problem.day_cost_cents)[:days].sum())
    return (
        f"all mandatory visits together take at least {days:,} crew-day{'s' if days != 1 else ''} "
        f"and {_money(cents)}; add crew-days or budget, or take back a request"
    )


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
        f"and costs {_money(problem.cost_cents[tree])} besides the crew-day",
        "requests",
        remedy,
    )


def _money(cents: float) -> str:
    return f"{cents / 100:,.2f}"
