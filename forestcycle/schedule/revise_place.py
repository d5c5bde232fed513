"""Give trees that ask for a place the time that crew-days near them have left."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from forestcycle.schedule.kinds import crew_day_kinds
from forestcycle.schedule.limits import within_limits
from forestcycle.schedule.mandatory import inserted
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.revise_order import behind_locks
from forestcycle.schedule.revise_search import Limits, Scene, has_time
from forestcycle.schedule.revise_start import HOSTS_OF_A_TREE, hosts_of
from forestcycle.schedule.revise_worth import Judge, as_stops
from forestcycle.schedule.spare_time import FEW_STOPS
from forestcycle.schedule.territory import may_visit
from forestcycle.travel.remembered import RememberedDrives

LEAST_GAIN = 1e-7


def placed(
    scene: Scene,
    routes: Sequence[IntArray],
    limits: Limits,
    *,
    seconds: float,
    thorough: bool = False,
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
    thorough : bool
        Look at each tree for itself, where no gap is found at crew-days not used yet too.

    Returns
    -------
    list of (s,) int64
        Within all limits, and never of lower rank than ``routes``.
    """
    problem = replace(scene.problem, travel=RememberedDrives.of(scene.problem.travel))
    density = problem.worth[scene.asking] / problem.service_minutes[scene.asking]
    trees = scene.asking[np.lexsort([-density, ~problem.mandatory[scene.asking]])]
    began = time.monotonic()
    filled = _Filled(problem, routes, scene.judge)
    try:
        for tree, groups in _with_hosts(problem, filled, trees, thorough=thorough):
            if time.monotonic() - began >= seconds:
                break
            any(_place(scene, filled, tree, days) for days in groups)
    except KeyboardInterrupt:
        limits.interrupted = True
    return filled.routes


def _with_hosts(
    problem: Problem, filled: "_Filled", trees: IntArray, *, thorough: bool
) -> Iterator[tuple[int, Iterator[Sequence[int]]]]:
    """Give each tree with groups of crew-days that might take it, the first to be tried first."""
    if thorough:
        for tree in trees.tolist():
            yield tree, (look(tree) for look in (filled.used_for, filled.unused_for))
        return
    ahead = np.asarray(problem.open_on.any(axis=0))
    for tree, days in zip(
        trees.tolist(), hosts_of(problem, filled.routes, ahead, trees), strict=True
    ):
        yield tree, iter([days])


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
        if tree in route and filled.lay(day, route):
            return True
    return False


class _Filled:
    """Routes as gaps in them are filled."""

    def __init__(self, problem: Problem, routes: Sequence[IntArray], judge: Judge) -> None:
        self.routes = list(routes)
        self._problem = problem
        self._judge = judge

    def used_for(self, tree: int) -> list[int]:
        """List used crew-days open to a tree, those that pass nearest to it first."""
        problem = self._problem
        day, stop = as_stops(self.routes)
        open_to_it = may_visit(problem, np.arange(len(self.routes)), np.array([tree]))[day, 0]
        day, stop = day[open_to_it], stop[open_to_it]
        away = np.hypot(problem.x[stop] - problem.x[tree], problem.y[stop] - problem.y[tree])
        days = list(dict.fromkeys(day[np.argsort(away, kind="stable")].tolist()))
        return days if len(stop) <= FEW_STOPS else days[:HOSTS_OF_A_TREE]

    def unused_for(self, tree: int) -> list[int]:
        """List crew-days not used yet that are open to a tree: of those alike, the best for it."""
        problem = self._problem
        days = np.flatnonzero([not len(route) for route in self.routes])
        days = days[may_visit(problem, days, np.array([tree]))[:, 0]]
        bonus = self._judge.bonus(days, np.array(tree))
        days = days[np.argsort(-bonus, kind="stable")]
        kinds = crew_day_kinds(problem, days=days, cost=True)
        first_of_kind = np.sort(np.unique(kinds, return_index=True)[1])
        return [int(day) for day in days[first_of_kind]]

    def route_with(self, day: int, tree: int) -> IntArray | None:
        """Route with the tree where it takes the least time; None without the time."""
        route, problem = self.routes[day], self._problem
        open_to_it = not len(route) or has_time(problem, day, route, tree)
        return inserted(problem, day, route, tree) if open_to_it else None

    def lay(self, day: int, route: IntArray) -> bool:
        """Take a longer route, unless money or a ward's share does not allow it."""
        before, self.routes[day] = self.routes[day], route
        used = np.flatnonzero([len(route) for route in self.routes])
        within = within_limits(self._problem, used, as_stops(self.routes)[1])
        if not within:
            self.routes[day] = before
        return within
