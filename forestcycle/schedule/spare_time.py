"""Minutes and hours that a plan leaves: what a further tree would still find free."""

import numpy as np
from scipy.spatial import KDTree

from forestcycle.schedule.kinds import crew_day_kinds
from forestcycle.schedule.mandatory import inserted
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.timetable import route_minutes
from forestcycle.travel.remembered import RememberedDrives

NEAR_STOPS = 4
FEW_STOPS = 200
"""Of so few stops in a plan all are near."""
TREES_AT_ONCE = 100


def free_minutes(problem: Problem, plan: Plan) -> FloatArray:
    """Minutes that each crew-day has left.

    Parameters
    ----------
    problem : Problem
    plan : Plan

    Returns
    -------
    (c,) float64
    """
    free = problem.capacity_minutes.astype(np.float64).copy()
    bounds = np.searchsorted(plan.crew_day, np.arange(problem.crew_days + 1))
    for day in np.unique(plan.crew_day).tolist():
        trees = plan.tree[bounds[day] : bounds[day + 1]]
        free[day] -= route_minutes(problem, day, trees)
    return free


def most_free(problem: Problem, free: FloatArray, left_out: IntArray) -> FloatArray:
    """Most free minutes of any crew-day with the skill and an open date.

    Parameters
    ----------
    problem : Problem
    free : (c,) float64
        As from :func:`free_minutes`.
    left_out : (k,) int64
        Positions in the problem's arrays.

    Returns
    -------
    (k,) float64
    """
    kinds = np.column_stack([problem.window[left_out], problem.skill[left_out].astype(np.int64)])
    distinct, kind = np.unique(kinds, axis=0, return_inverse=True)
    most = [
        np.max(free, where=_open_days(problem, window, skill), initial=0.0)
        for window, skill in distinct
    ]
    return np.array(most, dtype=np.float64)[kind.reshape(-1)]


def _open_days(problem: Problem, window: int, skill: int) -> BoolArray:
    able = (np.uint32(skill) & ~problem.crew_skill) == 0
    return np.asarray(able & problem.open_on[window, problem.date], dtype=np.bool_)


def least_lacking(problem: Problem, plan: Plan, free: FloatArray, trees: IntArray) -> FloatArray:
    """Minutes that the best insertion before or after a near stop lacks.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    free : (c,) float64
        As from :func:`free_minutes`.
    trees : (k,) int64
        Positions in the problem's arrays.

    Returns
    -------
    (k,) float64
        0 or less where the tree fits; infinite where no stop near it is on a
        crew-day that is open to it.
    """
    lacking = np.full(len(trees), np.inf)
    if not len(plan.tree) or not len(trees):
        return lacking
    stops = KDTree(np.column_stack([problem.x[plan.tree], problem.y[plan.tree]]))
    count = _stops_looked_at(len(plan.tree))
    # Where all stops are near, one search serves many trees; else each tree has ways of its own.
    at_once = TREES_AT_ONCE if count == len(plan.tree) else 1
    for start in range(0, len(trees), at_once):
        rows = slice(start, start + at_once)
        here = trees[rows]
        points = np.column_stack([problem.x[here], problem.y[here]])
        near = np.asarray(stops.query(points, k=np.arange(1, count + 1))[1], dtype=np.int64)
        lacking[rows] = _lacking(problem, plan, free, here, near).min(axis=1)
    return lacking


def _stops_looked_at(stops: int) -> int:
    return stops if stops <= FEW_STOPS else NEAR_STOPS


def lacking_alone(
    problem: Problem, plan: Plan, trees: IntArray, *, cents: float = np.inf
) -> FloatArray:
    """Minutes that the best unused crew-day lacks for a tree alone.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    trees : (k,) int64
        Positions in the problem's arrays.
    cents : float
        Money for the crew-day and the tree; no matter by default.

    Returns
    -------
    (k,) float64
        0 or less where it fits; infinite without such a crew-day.
    """
    lacking = np.full(len(trees), np.inf)
    unused = np.setdiff1d(np.arange(problem.crew_days), plan.crew_day)
    prices = np.unique(problem.day_cost_cents[unused])
    payable = np.searchsorted(prices, cents - problem.cost_cents[trees], side="right")
    kinds = np.column_stack([problem.window[trees], problem.skill[trees].astype(np.int64), payable])
    distinct, kind = np.unique(kinds, axis=0, return_inverse=True)
    for depot in np.unique(problem.depot[unused]):
        round_trip = _both_ways(problem, int(depot), problem.place[trees])
        days = unused[problem.depot[unused] == depot]
        price = np.searchsorted(prices, problem.day_cost_cents[days])
        capacity = [
            np.max(
                problem.capacity_minutes[days],
                where=_open_days(problem, window, skill)[days] & (price < paid),
                initial=-np.inf,
            )
            for window, skill, paid in distinct
        ]
        room = np.array(capacity)[kind.reshape(-1)]
        needed = round_trip + problem.parking_minutes + problem.service_minutes[trees]
        lacking = np.minimum(lacking, needed - room)
    return lacking


def _both_ways(problem: Problem, depot: int, places: IntArray) -> FloatArray:
    nodes, at = np.unique(places, return_inverse=True)
    there = problem.travel.minutes(np.array([depot]), nodes)[0]
    back = problem.travel.minutes(nodes, np.array([depot]))[:, 0]
    return np.asarray((there + back)[at], dtype=np.float64)


def _lacking(
    problem: Problem, plan: Plan, free: FloatArray, trees: IntArray, stops: IntArray
) -> FloatArray:
    """Minutes lacking to visit each tree before or after each of its stops, shape (k, 2 stops)."""
    starts = np.append(True, plan.crew_day[1:] != plan.crew_day[:-1])
    place, depot = problem.place[plan.tree], problem.depot[plan.crew_day]
    before = np.where(starts, depot, np.roll(place, 1))
    ends = np.roll(starts, -1)
    after = np.where(ends, depot, np.roll(place, -1))
    day = np.concatenate([plan.crew_day[stops]] * 2, axis=1)
    here = np.concatenate([before[stops], place[stops]], axis=1)
    there = np.concatenate([place[stops], after[stops]], axis=1)
    homewards = np.concatenate([np.zeros_like(ends[stops]), ends[stops]], axis=1)
    mine = np.broadcast_to(problem.place[trees][:, None], day.shape)
    nodes, at = np.unique(np.stack([here, mine, there]), return_inverse=True)
    at = at.reshape(3, *day.shape)
    minutes = problem.travel.minutes(nodes, nodes)
    parks = np.where(mine != here, problem.parking_minutes, 0.0)
    parks_again = np.where(~homewards & (there != mine), problem.parking_minutes, 0.0)
    parked = np.where(~homewards & (there != here), problem.parking_minutes, 0.0)
    detour = minutes[at[0], at[1]] + minutes[at[1], at[2]] - minutes[at[0], at[2]]
    needed = problem.service_minutes[trees][:, None] + detour + parks + parks_again - parked
    able = (problem.skill[trees][:, None] & ~problem.crew_skill[day]) == 0
    is_open = able & problem.open_on[problem.window[trees][:, None], problem.date[day]]
    return np.asarray(np.where(is_open, needed - free[day], np.inf), dtype=np.float64)


def room_near(
    problem: Problem, plan: Plan, tree: int, *, cents: float = np.inf
) -> tuple[int, IntArray] | None:
    """Find a crew-day of the stops nearest to a tree, or an unused one, that could take it.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    tree : int
        Position in the problem's arrays.
    cents : float
        Money for the tree, and for the crew-day if it is not used yet; no matter by default.

    Returns
    -------
    (int, (s,) int64) or None
        The crew-day, and its trees in order with this one among them.
    """
    every = np.arange(problem.crew_days)
    allowed = every[may_visit(problem, every, np.array([tree]))[:, 0]]
    stops = np.flatnonzero(np.isin(plan.crew_day, allowed))
    away = np.hypot(
        problem.x[plan.tree[stops]] - problem.x[tree], problem.y[plan.tree[stops]] - problem.y[tree]
    )
    looked_at = _stops_looked_at(len(plan.tree))
    near = plan.crew_day[stops[np.argsort(away, kind="stable")[:looked_at]]]
    unused = np.setdiff1d(allowed, plan.crew_day)
    unused = unused[problem.day_cost_cents[unused] <= cents - problem.cost_cents[tree]]
    alike = unused[np.unique(crew_day_kinds(problem, days=unused), return_index=True)[1]]
    days = dict.fromkeys((*near.tolist(), *alike.tolist()))
    routes = {day: plan.tree[plan.crew_day == day] for day in days}
    _meet(problem, tree, routes)
    for day, route in routes.items():
        longer = inserted(problem, day, route, tree)
        if longer is not None:
            return day, longer
    return None


def _meet(problem: Problem, tree: int, routes: dict[int, IntArray]) -> None:
    """Search a tree's ways to and from all these routes at once."""
    if routes and isinstance(problem.travel, RememberedDrives):
        trees = np.concatenate(list(routes.values()))
        nodes = np.unique(np.concatenate([problem.depot[list(routes)], problem.place[trees]]))
        problem.travel.meet(problem.place[[tree]], nodes)
