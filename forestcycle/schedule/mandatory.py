"""Make room for mandatory trees that the search left out.

A mandatory tree may stand far from every other tree that its few possible
crew-days visit, so that no territory ever offers it. It is then put into the
nearest crew-day that may visit it, and the least worthy stops make way.
"""

from collections.abc import Sequence

import numpy as np

from forestcycle.schedule.draft import Draft
from forestcycle.schedule.limits import trim
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.timetable import begin_minutes, legs_of, on_the_clock

SAME_MINUTES = 1e-6
"""Ways that differ by less may be the same: rounding depends on the order of adding up."""


def missing_mandatory(problem: Problem, routes: Sequence[IntArray]) -> IntArray:
    """Mandatory trees in no route, positions in the problem's arrays.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (k,) int64

    Returns
    -------
    (m,) int64
    """
    visited = np.zeros(problem.trees, dtype=np.bool_)
    for route in routes:
        visited[route] = True
    return np.flatnonzero(problem.mandatory & ~visited)


def shortest_visit(problem: Problem, tree: int) -> float:
    """Least minutes of a crew-day that visits a tree alone, among those that may.

    Parameters
    ----------
    problem : Problem
    tree : int
        Position in the problem's arrays.

    Returns
    -------
    float
        Infinite where none may.
    """
    every = np.arange(problem.crew_days)
    days = every[may_visit(problem, every, np.array([tree]))[:, 0]]
    alone = np.array([tree])
    drives = [legs_of(problem, day, alone).sum() for day in days.tolist()]
    return float(min(drives, default=np.inf) + problem.service_minutes[tree])


def make_room(problem: Problem, routes: Sequence[IntArray]) -> list[IntArray]:
    """Visit as many mandatory trees as can be, at the cost of other trees.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (s,) int64
        Trees of each crew-day in order, within all limits.

    Returns
    -------
    list of (s,) int64
        Within all limits again; mandatory trees that still do not fit are out.
    """
    draft = Draft(problem)
    draft.lay(dict(enumerate(routes)))
    for tree in missing_mandatory(problem, routes).tolist():
        _place(problem, draft, tree)
    return trim(problem, draft.routes)


def days_to_try(problem: Problem, draft: Draft, tree: int, *, wanted: int = -1) -> list[int]:
    """Crew-days that a tree may be put into: those used near it, then others, nearest first.

    Parameters
    ----------
    problem : Problem
    draft : Draft
        Where crew-days are now.
    tree : int
        Position in the problem's arrays.
    wanted : int
        A crew-day that comes before all others; none by default.

    Returns
    -------
    list of int
    """
    every = np.arange(problem.crew_days)
    allowed = every[may_visit(problem, every, np.array([tree]))[:, 0]]
    away = np.hypot(*(draft.centres[allowed] - [problem.x[tree], problem.y[tree]]).T)
    unused = np.array([not len(draft.routes[day]) for day in allowed], dtype=np.bool_)
    tried: list[int] = allowed[np.lexsort([away, unused, allowed != wanted])].tolist()
    return tried


def _place(problem: Problem, draft: Draft, tree: int) -> None:
    """Put a tree into the nearest crew-day that can make room for it."""
    for day in days_to_try(problem, draft, tree):
        route = _with(problem, day, draft.routes[day], tree)
        if route is not None:
            draft.lay({day: route})
            return


def _with(problem: Problem, day: int, route: IntArray, tree: int) -> IntArray | None:
    """Route with the tree in its best place, less the stops of least worth; None if none fits."""
    bare = inserted(problem, day, route[problem.mandatory[route]], tree)
    if bare is None:
        return None
    keep = route
    while True:
        longer = inserted(problem, day, keep, tree)
        if longer is not None:
            return longer
        others = keep[~problem.mandatory[keep]]
        if not len(others):
            return bare
        keep = keep[keep != others[np.argmin(problem.worth[others])]]


def inserted(problem: Problem, day: int, route: IntArray, tree: int) -> IntArray | None:
    """Put a tree into a route where it takes the fewest minutes on the way.

    Parameters
    ----------
    problem : Problem
    day : int
        Crew-day, whose date and skill allow the tree.
    route : (s,) int64
    tree : int

    Returns
    -------
    (s + 1,) int64, or None
        None if it fits nowhere.
    """
    legs = legs_of(problem, day, route)
    if np.isinf(legs).any():  # no way through, and a detour cannot be one
        return None
    longer = _longer_way(problem, day, route, tree, legs)
    service = problem.service_minutes[route].sum() + problem.service_minutes[tree]
    most = problem.capacity_minutes[day] - service - legs.sum()
    fitting: dict[int, IntArray] = {}
    for place in np.argsort(longer, kind="stable").tolist():
        if longer[place] > most + SAME_MINUTES:
            break
        candidate = np.insert(route, place, tree)
        if fits(problem, day, candidate):
            fitting[place] = candidate
            most = min(most, longer[place])
    if not fitting:
        return None
    places = sorted(fitting)
    return fitting[min(places, key=lambda place: legs_of(problem, day, fitting[place]).sum())]


def _longer_way(
    problem: Problem, day: int, route: IntArray, tree: int, legs: FloatArray
) -> FloatArray:
    """Minutes by which a tree makes the way longer at each place in a route, shape (s + 1,)."""
    there_and_on = np.full(2 * len(route) + 1, tree)
    there_and_on[1::2] = route
    to_and_from = legs_of(problem, day, there_and_on)
    return np.asarray(to_and_from[0::2] + to_and_from[1::2] - legs, dtype=np.float64)


def fits(problem: Problem, day: int, trees: IntArray) -> bool:
    """Whether a route keeps the crew-day's minutes and its trees' hours.

    Parameters
    ----------
    problem : Problem
    day : int
        Crew-day.
    trees : (s,) int64
        In order, at least one.

    Returns
    -------
    bool
    """
    legs = legs_of(problem, day, trees)
    begin = begin_minutes(problem, day, trees, legs)
    service = problem.service_minutes[trees]
    in_time = begin[-1] + service[-1] + legs[-1] <= problem.capacity_minutes[day]
    leaves = on_the_clock(problem, day, begin) + service
    return bool(in_time and (leaves <= problem.hours_until[trees]).all())
