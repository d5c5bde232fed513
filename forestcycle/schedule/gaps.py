"""The last look at a plan: trees that still fit are put in.

The search prices minutes and money; near its end, a few minutes may be left here and
there that a small tree could use. Nothing makes way for it.
"""

import time
from dataclasses import replace

import numpy as np

from forestcycle.schedule.limits import money_left, within_limits
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.spare_time import (
    TREES_AT_ONCE,
    free_minutes,
    lacking_alone,
    least_lacking,
    most_free,
    room_near,
)

MOST_TRIED = 2_000


def with_gaps_filled(problem: Problem, plan: Plan, *, seconds: float | None = None) -> Plan:
    """Put in trees that a crew-day near them, or an unused one, has the time and money for.

    Parameters
    ----------
    problem : Problem
        Better with travel that remembers ways.
    plan : Plan
        Within all limits.
    seconds : float, optional
        Once so many have passed, no further tree is tried.

    Returns
    -------
    Plan
        Within all limits, with the same trees and perhaps more.
    """
    began = time.monotonic()
    try:
        for trees in _candidates(problem, plan):
            if seconds is not None and time.monotonic() - began >= seconds:
                break
            for tree in trees[_have_the_minutes(problem, plan, trees)].tolist():
                plan = _with(problem, plan, tree)
    except KeyboardInterrupt:
        plan = replace(plan, interrupted=True)
    return replace(plan, seconds=plan.seconds + time.monotonic() - began)


def _candidates(problem: Problem, plan: Plan) -> list[IntArray]:
    """Trees not planned that some crew-day has the service minutes for, worthiest first."""
    left = np.setdiff1d(np.arange(problem.trees), plan.tree)
    left = left[problem.cost_cents[left] <= money_left(problem, plan)]
    free = free_minutes(problem, plan)
    left = left[problem.service_minutes[left] <= most_free(problem, free, left)]
    density = problem.worth[left] / problem.service_minutes[left]
    tried = left[np.argsort(-density, kind="stable")][:MOST_TRIED]
    return np.split(tried, range(TREES_AT_ONCE, len(tried), TREES_AT_ONCE))


def _have_the_minutes(problem: Problem, plan: Plan, trees: IntArray) -> np.ndarray:
    beside = least_lacking(problem, plan, free_minutes(problem, plan), trees)
    alone = lacking_alone(problem, plan, trees, cents=money_left(problem, plan))
    return np.asarray(np.minimum(beside, alone) <= 0)


def _with(problem: Problem, plan: Plan, tree: int) -> Plan:
    """Plan with a tree more, or as it is where that breaks a limit."""
    found = room_near(problem, plan, tree, cents=money_left(problem, plan))
    if found is None:
        return plan
    day, route = found
    before, after = np.searchsorted(plan.crew_day, [day, day + 1])
    trees = np.concatenate([plan.tree[:before], route, plan.tree[after:]])
    crew_day = np.insert(plan.crew_day, before, day)
    if not within_limits(problem, np.unique(crew_day), trees):
        return plan
    order = np.concatenate([plan.order[:before], np.arange(len(route)), plan.order[after:]])
    worth = float(problem.worth[trees].sum())
    return replace(plan, crew_day=crew_day, order=order, tree=trees, worth=worth)
