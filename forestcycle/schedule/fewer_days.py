"""Of plans of equal worth, the one with fewer crew-days.

A crew-day whose stops all find room on others near it is not used. Nothing is
given up for it: the same trees are visited.
"""

import time
from collections.abc import Sequence

import numpy as np

from forestcycle.schedule.draft import Draft
from forestcycle.schedule.mandatory import inserted
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.timetable import route_minutes

NEAR_DAYS = 6
MOST_TRIED = 40


def with_fewer_days(
    problem: Problem, routes: Sequence[IntArray], *, seconds: float | None = None
) -> list[IntArray]:
    """Empty crew-days whose stops fit on others, those of the least work first.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (s,) int64
        Trees of each crew-day in order, within all limits.
    seconds : float, optional
        Once so many have passed, no further crew-day is tried.

    Returns
    -------
    list of (s,) int64
        The same trees on as many crew-days or fewer, within all limits.
    """
    until = np.inf if seconds is None else time.monotonic() + seconds
    kept = list(routes)
    work = np.array([problem.service_minutes[route].sum() for route in kept])
    used = np.flatnonzero(work > 0)
    draft = Draft(problem)
    draft.lay(dict(enumerate(kept)))
    for day in used[np.argsort(work[used], kind="stable")][:MOST_TRIED].tolist():
        if time.monotonic() >= until:
            break
        for other, route in _spread_over_others(problem, kept, day, draft.centres).items():
            kept[other] = route
    return kept


def _spread_over_others(
    problem: Problem, routes: Sequence[IntArray], day: int, centres: FloatArray
) -> dict[int, IntArray]:
    """Routes that change if all stops of a crew-day find room elsewhere; none if they do not."""
    others = _near(routes, centres, day)
    service = problem.service_minutes[routes[day]]
    if service.sum() > sum(_free(problem, other, routes[other]) for other in others):
        return {}
    changed = {other: routes[other] for other in others}
    for tree in routes[day][np.argsort(-service, kind="stable")].tolist():
        may = may_visit(problem, np.array(others), np.array([tree]))[:, 0].tolist()
        allowed = (other for other, open_to_it in zip(others, may, strict=True) if open_to_it)
        tries = ((other, inserted(problem, other, changed[other], tree)) for other in allowed)
        found = next(((other, route) for other, route in tries if route is not None), None)
        if found is None:
            return {}
        changed[found[0]] = found[1]
    return {**changed, day: np.empty(0, dtype=np.int64)}


def _free(problem: Problem, day: int, route: IntArray) -> float:
    """Minutes that a crew-day has left."""
    return float(problem.capacity_minutes[day] - route_minutes(problem, day, route))


def _near(routes: Sequence[IntArray], centres: FloatArray, day: int) -> list[int]:
    """Find the used crew-days nearest to one, by the middle of their trees."""
    used = np.array([other for other, route in enumerate(routes) if len(route) and other != day])
    if not len(used):
        return []
    away = np.hypot(*(centres[used] - centres[day]).T)
    near: list[int] = used[np.argsort(away, kind="stable")][:NEAR_DAYS].tolist()
    return near
