"""Give trees that ask for a place the time that crew-days near them have left."""

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from forestcycle.schedule.kinds import crew_day_kinds
from forestcycle.schedule.limits import cost_of, trim
from forestcycle.schedule.mandatory import inserted
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.revise_order import behind_locks
from forestcycle.schedule.revise_search import Limits, Scene, has_time
from forestcycle.schedule.revise_start import HOSTS_OF_A_TREE, hosts_of
from forestcycle.schedule.revise_worth import Judge, as_stops
from forestcycle.schedule.territory import may_visit
from forestcycle.travel.remembered import RememberedDrives

LEAST_GAIN = 1e-7


def placed(
    scene: Scene,
    routes: Sequence[IntArray],
    limits: Limits,
    *,
    seconds: float,
    unused_too: bool = False,
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
    unused_too : bool
        Give a tree for which there is no gap a crew-day that is not used yet.

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
    filled = _Filled(problem, routes, scene.judge)
    try:
        near = hosts_of(problem, routes, ahead, trees)
        for tree, hosts in zip(trees.tolist(), near, strict=True):
            if time.monotonic() - began >= seconds:
                break
            found = _place(scene, filled, tree, [*hosts, *filled.opened_near(tree)])
            if unused_too and not found:
                _place(scene, filled, tree, filled.unused_for(tree))
    except KeyboardInterrupt:
        limits.interrupted = True
    within = trim(problem, filled.routes)
    return max(list(routes), within, key=scene.judge.standing_of)


def _place(scene: Scene, filled: "_Filled", tree: int, hosts: Sequence[int]) -> bool:
    """Put a tree into the first crew-day with time for it, one of its own crew's if it can be."""
    if not len(hosts):
        return False
    bonus = scene.judge.bonus(np.array(hosts), np.array(tree))
    for place in np.argsort(-bonus, kind="stable").tolist():
        day = hosts[place]
        if scene.problem.worth[tree] + bonus[place] <= LEAST_GAIN:
            break
        route = filled.route_with(day, tree)
        if route is None:
            continue
        route = behind_locks(scene.problem, scene.standing, scene.home, day, route)
        if tree in route:
            filled.lay(day, route, tree)
            return True
    return False


class _Filled:
    """Routes as gaps in them are filled, and the money left."""

    def __init__(self, problem: Problem, routes: Sequence[IntArray], judge: Judge) -> None:
        self.routes = list(routes)
        self._problem = problem
        self._judge = judge
        self._opened: list[int] = []
        crew_day, trees = as_stops(routes)
        spent = cost_of(problem, np.unique(crew_day), trees)
        self._left = np.inf if problem.budget_cents is None else problem.budget_cents - spent

    def opened_near(self, tree: int) -> list[int]:
        """Crew-days used since the beginning whose first stops are nearest to a tree."""
        x, y = self._problem.x, self._problem.y
        first = [self.routes[day][0] for day in self._opened]
        away = np.hypot(x[first] - x[tree], y[first] - y[tree])
        return [self._opened[place] for place in np.argsort(away)[:HOSTS_OF_A_TREE].tolist()]

    def unused_for(self, tree: int) -> list[int]:
        """Crew-days not used yet that are open to a tree: of those alike, the best for it."""
        problem = self._problem
        days = np.flatnonzero([not len(route) for route in self.routes])
        days = days[may_visit(problem, days, np.array([tree]))[:, 0]]
        bonus = self._judge.bonus(days, np.array(tree))
        days = days[np.argsort(-bonus, kind="stable")]
        kinds = crew_day_kinds(problem, days=days, cost=True)
        first_of_kind = np.sort(np.unique(kinds, return_index=True)[1])
        return [int(day) for day in days[first_of_kind]]

    def route_with(self, day: int, tree: int) -> IntArray | None:
        """Route with the tree where it takes the least time; None without the time or money.

        Funds and shares are looked at last.
        """
        route, problem = self.routes[day], self._problem
        if self._cost(day, tree) > self._left:
            return None
        open_to_it = not len(route) or has_time(problem, day, route, tree)
        return inserted(problem, day, route, tree) if open_to_it else None

    def lay(self, day: int, route: IntArray, tree: int) -> None:
        """Take a longer route."""
        self._left -= self._cost(day, tree)
        if not len(self.routes[day]):
            self._opened.append(day)
        self.routes[day] = route

    def _cost(self, day: int, tree: int) -> int:
        of_day = 0 if len(self.routes[day]) else int(self._problem.day_cost_cents[day])
        return of_day + int(self._problem.cost_cents[tree])
