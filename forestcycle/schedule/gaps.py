"""The last look at a plan: trees that still fit are put in.

The search prices minutes and money; near its end, a few minutes may be left here and
there that a small tree could use. Nothing makes way for it.
"""

import time
from dataclasses import replace

import numpy as np

from forestcycle.schedule.limits import money_left, within_limits
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.spare_time import (
    TREES_AT_ONCE,
    free_minutes,
    lacking_alone,
    least_lacking,
    most_free,
    room_near,
)
from forestcycle.schedule.timetable import route_minutes

MOST_TRIED = 2_000
SECONDS_PER_CREW_DAY = 0.01
"""It takes about so long to see what a crew-day has left."""


def with_gaps_filled(problem: Problem, plan: Plan, *, seconds: float | None = None) -> Plan:
    """Put in trees that a crew-day near them, or an unused one, has the time and money for.

    Parameters
    ----------
    problem : Problem
        Better with travel that remembers ways.
    plan : Plan
        Within all limits.
    seconds : float, optional
        Once so many have passed, no further tree is tried; with very few, none is.

    Returns
    -------
    Plan
        Within all limits, with the same trees and perhaps more.
    """
    began = time.monotonic()
    if seconds is not None and seconds <= SECONDS_PER_CREW_DAY * problem.crew_days:
        return plan
    filled = _Filled(problem, plan)
    try:
        for trees in filled.candidates():
            if seconds is not None and time.monotonic() - began >= seconds:
                break
            for tree in trees[filled.lacking(trees) <= 0].tolist():
                filled.put_in(tree)
    except KeyboardInterrupt:
        filled.plan = replace(filled.plan, interrupted=True)
    return replace(filled.plan, seconds=plan.seconds + time.monotonic() - began)


class _Filled:
    """A plan as its gaps are filled, and what its crew-days have left."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.plan = plan
        self._problem = problem
        self._free = free_minutes(problem, plan)

    def candidates(self) -> list[IntArray]:
        """Trees not planned that some crew-day has the service minutes for, worthiest first."""
        problem = self._problem
        left = np.setdiff1d(np.arange(problem.trees), self.plan.tree)
        left = left[problem.cost_cents[left] <= money_left(problem, self.plan)]
        left = left[problem.service_minutes[left] <= most_free(problem, self._free, left)]
        density = problem.worth[left] / problem.service_minutes[left]
        tried = left[np.argsort(-density, kind="stable")][:MOST_TRIED]
        return np.split(tried, range(TREES_AT_ONCE, len(tried), TREES_AT_ONCE))

    def lacking(self, trees: IntArray) -> FloatArray:
        """Minutes that each tree lacks at the best place looked at; its hours aside."""
        beside = least_lacking(self._problem, self.plan, self._free, trees)
        cents = money_left(self._problem, self.plan)
        return np.minimum(beside, lacking_alone(self._problem, self.plan, trees, cents=cents))

    def put_in(self, tree: int) -> None:
        """Take a tree in, unless that breaks a limit."""
        problem, plan = self._problem, self.plan
        found = room_near(problem, plan, tree, cents=money_left(problem, plan))
        if found is None:
            return
        day, route = found
        before, after = np.searchsorted(plan.crew_day, [day, day + 1])
        trees = np.concatenate([plan.tree[:before], route, plan.tree[after:]])
        crew_day = np.insert(plan.crew_day, before, day)
        if not within_limits(problem, np.unique(crew_day), trees):
            return
        order = np.concatenate([plan.order[:before], np.arange(len(route)), plan.order[after:]])
        worth = float(problem.worth[trees].sum())
        self.plan = replace(plan, crew_day=crew_day, order=order, tree=trees, worth=worth)
        self._free[day] = problem.capacity_minutes[day] - route_minutes(problem, day, route)
