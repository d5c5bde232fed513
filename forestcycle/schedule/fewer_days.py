"""Of plans of equal worth, the one with fewer crew-days.

A crew-day whose stops all find room on others near it is not used. Nothing is
given up for it: the same trees are visited.
"""

from collections.abc import Sequence

import numpy as np

from forestcycle.schedule.draft import Draft
from forestcycle.schedule.mandatory import inserted
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.timetable import legs_of

NEAR_DAYS = 6
MOST_TRIED = 40


def with_fewer_days(problem: Problem, routes: Sequence[IntArray]) -> list[IntArray]:
    """Empty crew-days whose stops fit on others.

    Parameters
    ----------
    problem : Problem
    routes : sequence of (s,) int64
        Trees of each crew-day in order, within all limits.

    Returns
    -------
    list of (s,) int64
        The same trees on as many crew-days or fewer, within all limits.
    """
    kept = list(routes)
    minutes = np.array([_minutes(problem, day, route) for day, route in enumerate(kept)])
    used = np.flatnonzero(minutes > 0)
    draft = Draft(problem)
    draft.lay(dict(enumerate(kept)))
    for day in used[np.argsort(minutes[used], kind="stable")][:MOST_TRIED].tolist():
        others = _near(draft.centres, minutes, day)
        changed = _spread_over_others(problem, kept, minutes, day, others)
        for other, route in changed.items():
            kept[other] = route
            minutes[other] = _minutes(problem, other, route)
    return kept


def _minutes(problem: Problem, day: int, route: IntArray) -> float:
    if not len(route):
        return 0.0
    return float(legs_of(problem, day, route).sum() + problem.service_minutes[route].sum())


def _spread_over_others(
    problem: Problem,
    routes: Sequence[IntArray],
    minutes: FloatArray,
    day: int,
    others: IntArray,
) -> dict[int, IntArray]:
    """Routes that change if all stops of a crew-day find room elsewhere; none if they do not."""
    free = problem.capacity_minutes[others] - minutes[others]
    service = problem.service_minutes[routes[day]]
    if service.sum() > free.sum():
        return {}
    changed = {other: routes[other] for other in others.tolist()}
    for tree in routes[day][np.argsort(-service, kind="stable")].tolist():
        allowed = others[may_visit(problem, others, np.array([tree]))[:, 0]].tolist()
        tries = ((other, inserted(problem, other, changed[other], tree)) for other in allowed)
        found = next(((other, route) for other, route in tries if route is not None), None)
        if found is None:
            return {}
        changed[found[0]] = found[1]
    return {**changed, day: np.empty(0, dtype=np.int64)}


def _near(centres: FloatArray, minutes: FloatArray, day: int) -> IntArray:
    """Find the used crew-days nearest to one, by the middle of their trees."""
    used = np.flatnonzero(minutes > 0)
    used = used[used != day]
    away = np.hypot(*(centres[used] - centres[day]).T)
    return np.asarray(used[np.argsort(away, kind="stable")][:NEAR_DAYS], dtype=np.int64)
