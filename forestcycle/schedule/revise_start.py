"""Where a revision starts: what is still possible of the plan, and what has changed."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from forestcycle.schedule.limits import trim
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.revise_standing import Standing
from forestcycle.schedule.territory import may_visit

NEAR_STOPS = 60
HOSTS_OF_A_TREE = 5
NEIGHBOURS_OF_A_DAY = 3
SPARE_DAYS = 2


def still_possible(problem: Problem, standing: Standing, home: IntArray) -> list[IntArray]:
    """Plan that only drops what can no longer be.

    Parameters
    ----------
    problem : Problem
        Narrowed: the past closed, locks kept.
    standing : Standing
    home : (n,) int64
        Crew-day promised to each tree.

    Returns
    -------
    list of (s,) int64
        Trees of each crew-day in the order in force, within all limits.
    """
    trees = np.flatnonzero(home >= 0)
    day = home[trees]
    able = (problem.skill[trees] & ~problem.crew_skill[day]) == 0
    kept = trees[problem.open_on[problem.window[trees], problem.date[day]] & able]
    kept = kept[np.lexsort([standing.order[kept], home[kept]])]
    ends = np.searchsorted(home[kept], np.arange(problem.crew_days + 1))
    routes = [
        _that_fits(problem, number, kept[ends[number] : ends[number + 1]])
        for number in range(problem.crew_days)
    ]
    return trim(problem, routes)


def _that_fits(problem: Problem, day: int, route: IntArray) -> IntArray:
    """Leave out the stops of least worth until the day is long enough."""
    while len(route) and not fits(problem, day, route):
        rank = np.where(problem.mandatory[route], np.inf, problem.worth[route])
        route = np.delete(route, int(np.argmin(rank)))
    return route


def asking(problem: Problem, standing: Standing, routes: Sequence[IntArray]) -> IntArray:
    """Trees out of the plan for which something has changed.

    Parameters
    ----------
    problem : Problem
        Narrowed.
    standing : Standing
    routes : sequence of (s,) int64
        From :func:`still_possible`.

    Returns
    -------
    (k,) int64
        Promised visits without a place, trees that are worth more than before,
        and mandatory ones.
    """
    out = np.ones(problem.trees, dtype=np.bool_)
    out[np.concatenate([np.empty(0, dtype=np.int64), *routes])] = False
    return np.flatnonzero(out & (standing.promised | standing.better_trees | problem.mandatory))


def affected_days(
    problem: Problem,
    standing: Standing,
    home: IntArray,
    routes: Sequence[IntArray],
    trees: IntArray,
) -> IntArray:
    """Crew-days that a change concerns: those with new room, and hosts for the trees asking.

    Parameters
    ----------
    problem : Problem
        Narrowed.
    standing : Standing
    home : (n,) int64
    routes : sequence of (s,) int64
        From :func:`still_possible`.
    trees : (k,) int64
        From :func:`asking`.

    Returns
    -------
    (d,) int64
        Rising; none if nothing has changed.
    """
    ahead: BoolArray = np.asarray(problem.open_on.any(axis=0))
    stops = np.bincount(home[home >= 0], minlength=problem.crew_days)
    lengths = np.array([len(route) for route in routes])
    roomier = ahead & (standing.better_days | (lengths < stops))
    chosen = np.zeros(problem.crew_days, dtype=np.bool_)
    chosen[roomier] = True
    where = _where(problem, routes)
    used = np.flatnonzero(ahead & (lengths > 0))
    chosen[_beside(where, np.flatnonzero(roomier & (lengths > 0)), used)] = True
    if len(trees):
        hosts = hosts_of(problem, routes, ahead, trees)
        chosen[[day for near in hosts for day in near]] = True
        chosen[_idle_hosts(problem, ahead & (lengths == 0), trees)] = True
    return np.flatnonzero(chosen)


def _where(problem: Problem, routes: Sequence[IntArray]) -> FloatArray:
    """Middle of each crew-day's trees, NaN without any, shape (c, 2)."""
    points = np.column_stack([problem.x, problem.y])
    return np.array([points[r].mean(axis=0) if len(r) else (np.nan, np.nan) for r in routes])


def _beside(where: FloatArray, days: IntArray, used: IntArray) -> IntArray:
    """Nearest other crew-days of some."""
    if not len(days) or not len(used):
        return np.empty(0, dtype=np.int64)
    count = min(NEIGHBOURS_OF_A_DAY + 1, len(used))
    _, near = cKDTree(where[used]).query(where[days], k=count)
    return np.unique(used[np.asarray(near).reshape(-1)])


def hosts_of(
    problem: Problem, routes: Sequence[IntArray], ahead: BoolArray, trees: IntArray
) -> list[list[int]]:
    """Crew-days ahead that may visit a tree and have stops near it.

    Parameters
    ----------
    problem : Problem
        Narrowed.
    routes : sequence of (s,) int64
    ahead : (c,) bool
        Crew-days that are not past.
    trees : (k,) int64

    Returns
    -------
    list of list of int
        For each tree, the nearest first.
    """
    stop_day = np.repeat(np.arange(problem.crew_days), [len(route) for route in routes])
    stop = np.concatenate([np.empty(0, dtype=np.int64), *routes])
    stop, stop_day = stop[ahead[stop_day]], stop_day[ahead[stop_day]]
    if not len(stop):
        return [[] for _ in trees]
    points = np.column_stack([problem.x, problem.y])
    count = min(NEAR_STOPS, len(stop))
    _, near = cKDTree(points[stop]).query(points[trees], k=count)
    near_days = stop_day[np.asarray(near).reshape(len(trees), count)]
    allowed = problem.open_on[problem.window[trees][:, None], problem.date[near_days]] & (
        (problem.skill[trees][:, None] & ~problem.crew_skill[near_days]) == 0
    )
    return [
        list(dict.fromkeys(days[possible].tolist()))[:HOSTS_OF_A_TREE]
        for days, possible in zip(near_days, allowed, strict=True)
    ]


def _idle_hosts(problem: Problem, idle: BoolArray, trees: IntArray) -> IntArray:
    """Unused crew-days that may visit the most trees, a few more than their minutes fill."""
    days = np.flatnonzero(idle)
    if not len(days):
        return days
    minutes = problem.service_minutes[trees]
    possible = may_visit(problem, days, trees) @ minutes
    needed = int(np.ceil(minutes.sum() / problem.capacity_minutes[days].mean())) + SPARE_DAYS
    best = np.argsort(-possible, kind="stable")[:needed]
    return days[best[possible[best] > 0]]


def valued(problem: Problem, standing: Standing, other_day: float) -> Problem:
    """Count a promised visit's day into its worth, as what leaving it out would lose.

    Parameters
    ----------
    problem : Problem
    standing : Standing
    other_day : float
        Price of moving a visit to another day.

    Returns
    -------
    Problem
    """
    return replace(problem, worth=problem.worth + other_day * standing.promised)
