"""The mandatory trees of a problem alone: their cheapest plan, and crew-days enough for all."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from forestcycle.schedule.draft import Draft
from forestcycle.schedule.fewer_days import with_fewer_days
from forestcycle.schedule.kinds import crew_day_kinds
from forestcycle.schedule.limits import cost_of
from forestcycle.schedule.mandatory import days_to_try, inserted, missing_mandatory
from forestcycle.schedule.one_model import MOST_ARCS, Answer, Goal, arcs_of, solve_as_one
from forestcycle.schedule.problem import BoolArray, IntArray, Problem
from forestcycle.schedule.subset import subset
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.timetable import route_minutes

WORK = 10.0
MOST_PLACED = 300
MOST_DAYS_TRIED = 40


@dataclass(frozen=True)
class Enough:
    """Crew-days on which all mandatory trees have room, whatever that costs.

    Attributes
    ----------
    problem : Problem
        With second crews, on dates there are, after the given crew-days.
    routes : list of (s,) int64
        Mandatory trees of each crew-day in order.
    extra : int
        Number of those second crews.
    """

    problem: Problem
    routes: list[IntArray]
    extra: int

    @property
    def cents(self) -> int:
        """Cost of these visits and crew-days."""
        used = np.flatnonzero([len(route) > 0 for route in self.routes])
        return cost_of(self.problem, used, np.concatenate(self.routes))


def without_limits(problem: Problem) -> Problem:
    """Lift the limits on money and the shares of wards.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Problem
    """
    return replace(
        problem,
        budget_cents=None,
        fund_budget_cents=np.full_like(problem.fund_budget_cents, np.iinfo(np.int32).max),
        ward_least_share=np.zeros(len(problem.ward_least_share)),
    )


def promised(problem: Problem) -> Problem:
    """Keep the mandatory trees only, and no shares of wards.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Problem
    """
    must = subset(problem, trees=problem.mandatory)
    return replace(must, ward_least_share=np.zeros(len(problem.ward_least_share)))


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
    must = promised(problem)
    asked = as_many_days_as_trees(must)
    few = subset(must, crew_days=asked)
    if arcs_of(few) > MOST_ARCS:
        return Answer(None, np.nan, 0.0, none_exists=False)
    answer = solve_as_one(few, Goal.CENTS, work=WORK)
    if answer.routes is None:
        return answer
    trees = np.flatnonzero(problem.mandatory)
    routes = [np.empty(0, dtype=np.int64)] * problem.crew_days
    for day, route in zip(np.flatnonzero(asked).tolist(), answer.routes, strict=True):
        routes[day] = trees[route]
    return replace(answer, routes=routes)


def as_many_days_as_trees(problem: Problem) -> BoolArray:
    """Choose of each kind of crew-days as many as there are trees: no plan needs more.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    (c,) bool
    """
    kind = crew_day_kinds(problem, skill=True, cost=True, dates=True)
    order = np.argsort(kind, kind="stable")
    first = np.searchsorted(kind[order], kind[order])
    chosen = np.zeros(problem.crew_days, dtype=np.bool_)
    chosen[order[np.arange(problem.crew_days) - first < problem.trees]] = True
    return chosen


def enough_days(problem: Problem, routes: Sequence[IntArray]) -> Enough | None:
    """Give all mandatory trees room, on second crews where the crew-days there are have none.

    Enough, not the least: trees are put in one after the other, the longest first.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (s,) int64
        A plan; its other trees make way.

    Returns
    -------
    Enough or None
        None where a mandatory tree fits on no crew-day even alone, or too many are missing.
    """
    kept = [route[problem.mandatory[route]] for route in routes]
    missing = missing_mandatory(problem, kept)
    if len(missing) > MOST_PLACED:
        return None
    draft = Draft(problem)
    draft.lay(dict(enumerate(kept)))
    kinds = kinds_of_days(problem)
    second: list[tuple[int, IntArray]] = []
    for tree in missing[np.argsort(-problem.service_minutes[missing], kind="stable")].tolist():
        if not _put_in(problem, draft, tree) and not _on_second_crew(problem, second, kinds, tree):
            return None
    kept = with_fewer_days(without_limits(problem), draft.routes)
    rows = np.array([*range(problem.crew_days), *(day for day, _ in second)], dtype=np.int64)
    wider = subset(problem, crew_days=rows)
    return Enough(wider, [*kept, *(route for _, route in second)], len(second))


def kinds_of_days(problem: Problem) -> IntArray:
    """One crew-day of each kind that differs in what it can reach, the longest first.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    (k,) int64
    """
    first = np.unique(crew_day_kinds(problem, skill=True, dates=True), return_index=True)[1]
    longest = np.argsort(-problem.capacity_minutes[first], kind="stable")
    return np.asarray(first[longest], dtype=np.int64)


def _put_in(problem: Problem, draft: Draft, tree: int) -> bool:
    """Put a tree into the nearest crew-day with the time for it, a used one before others."""
    for day in days_to_try(problem, draft, tree)[:MOST_DAYS_TRIED]:
        longer = _with(problem, day, draft.routes[day], tree)
        if longer is not None:
            draft.lay({day: longer})
            return True
    return False


def _on_second_crew(
    problem: Problem, second: list[tuple[int, IntArray]], kinds: IntArray, tree: int
) -> bool:
    """Put a tree onto a second crew, a further one where those there are have no time."""
    able = set(kinds[may_visit(problem, kinds, np.array([tree]))[:, 0]].tolist())
    for number, (day, route) in enumerate(second):
        longer = _with(problem, day, route, tree) if day in able else None
        if longer is not None:
            second[number] = (day, longer)
            return True
    nothing = np.empty(0, dtype=np.int64)
    for day in (day for day in kinds.tolist() if day in able):
        alone = _with(problem, day, nothing, tree)
        if alone is not None:
            second.append((day, alone))
            return True
    return False


def _with(problem: Problem, day: int, route: IntArray, tree: int) -> IntArray | None:
    """Route with the tree in its best place; None, and that quickly, without the minutes."""
    worked = route_minutes(problem, day, route) if len(route) else 0.0
    if worked + problem.service_minutes[tree] > problem.capacity_minutes[day]:
        return None
    return inserted(problem, day, route, tree)
