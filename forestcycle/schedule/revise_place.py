"""Give trees that ask for a place the time that crew-days near them have left."""

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from forestcycle.schedule.limits import cost_of, trim
from forestcycle.schedule.mandatory import inserted
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.revise_order import behind_locks
from forestcycle.schedule.revise_search import Limits, Scene, has_time
from forestcycle.schedule.revise_start import hosts_of
from forestcycle.schedule.revise_worth import as_stops
from forestcycle.travel.remembered import RememberedDrives

LEAST_GAIN = 1e-7


def placed(
    scene: Scene, routes: Sequence[IntArray], limits: Limits, *, seconds: float
) -> list[IntArray]:
    """Put the trees that ask into crew-days that pass near them and have the time.

    Nothing makes way for them. Mandatory trees come first, then those of most worth a minute.

    Parameters
    ----------
    scene : Scene
    routes : sequence of (s,) int64
        Of all crew-days, within all limits.
    limits : Limits
        Told of an interruption.
    seconds : float
        Once so many have passed, no further tree is looked at; may be infinite.

    Returns
    -------
    list of (s,) int64
        Within all limits, and never of lower rank than ``routes``.
    """
    problem = replace(scene.problem, travel=RememberedDrives.of(scene.problem.travel))
    density = problem.worth[scene.asking] / problem.service_minutes[scene.asking]
    trees = scene.asking[np.lexsort([-density, ~problem.mandatory[scene.asking]])]
    ahead = np.asarray(problem.open_on.any(axis=0))
    began = time.monotonic()
    filled = _Filled(problem, routes)
    try:
        near = hosts_of(problem, routes, ahead, trees)
        for tree, hosts in zip(trees.tolist(), near, strict=True):
            if time.monotonic() - began >= seconds:
                break
            _place(scene, filled, tree, hosts)
    except KeyboardInterrupt:
        limits.interrupted = True
    within = trim(problem, filled.routes)
    return max(list(routes), within, key=scene.judge.standing_of)


def _place(scene: Scene, filled: "_Filled", tree: int, hosts: Sequence[int]) -> None:
    """Put a tree into the first crew-day with time for it, one of its own crew's if it can be."""
    if not len(hosts) or not filled.affords(tree):
        return
    bonus = scene.judge.bonus(np.array(hosts), np.array(tree))
    for place in np.argsort(-bonus, kind="stable").tolist():
        day = hosts[place]
        if scene.problem.worth[tree] + bonus[place] <= LEAST_GAIN:
            return
        route = filled.route_with(day, tree)
        if route is None:
            continue
        route = behind_locks(scene.problem, scene.standing, scene.home, day, route)
        if tree in route:
            filled.lay(day, route, tree)
            return


class _Filled:
    """Routes as gaps in them are filled, and the money left."""

    def __init__(self, problem: Problem, routes: Sequence[IntArray]) -> None:
        self.routes = list(routes)
        self._problem = problem
        crew_day, trees = as_stops(routes)
        spent = cost_of(problem, np.unique(crew_day), trees)
        self._left = np.inf if problem.budget_cents is None else problem.budget_cents - spent

    def affords(self, tree: int) -> bool:
        """Whether the budget has the tree's cost left; funds and shares are looked at last."""
        return bool(self._problem.cost_cents[tree] <= self._left)

    def route_with(self, day: int, tree: int) -> IntArray | None:
        """Route of a crew-day with the tree where it takes the least time, None without time."""
        route, problem = self.routes[day], self._problem
        return inserted(problem, day, route, tree) if has_time(problem, day, route, tree) else None

    def lay(self, day: int, route: IntArray, tree: int) -> None:
        """Take a longer route."""
        self.routes[day] = route
        self._left -= int(self._problem.cost_cents[tree])
