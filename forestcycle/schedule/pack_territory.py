"""Improve the routes of one territory: a task that can run anywhere."""

import time
from dataclasses import dataclass
from functools import cache

from forestcycle.schedule.choose import Column
from forestcycle.schedule.cluster import ClusterSearch, Route, warm_up
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import Territory, ground_of

STEPS_PER_DAY = 500
STEPS_AT_ONCE = 250
COLD = 0.01
COLUMNS_PER_DAY = 12


@dataclass(frozen=True)
class Span:
    """How long to search, by the clock.

    Attributes
    ----------
    seconds : float
        For this territory.
    until : float
        Seconds since 1970 at which all searching ends. Clocks of a cluster's
        machines differ by little; one that is ahead searches less.
    owed_until : float
        The same for crew-days that have no route yet, which get one go even late.
    """

    seconds: float
    until: float
    owed_until: float

    def is_over(self, *, owed: bool) -> bool:
        """Whether it is too late to begin.

        Parameters
        ----------
        owed : bool
            Whether a crew-day has no route yet.

        Returns
        -------
        bool
        """
        return time.time() >= (self.owed_until if owed else self.until)


@dataclass(frozen=True)
class TerritoryTask:
    """What packing one territory needs besides the problem.

    Attributes
    ----------
    area : Territory
    worth : (m,) float64
        Of the territory's trees, less the price of money.
    day_price : (k,) float64
        Worth that using each of its crew-days costs.
    routes : tuple of (r,) int64
        What its crew-days visit so far: positions in the problem's arrays.
    seed : int
    hot : float
        Temperature at the start.
    span : Span or None
        None: as many steps as the crew-days call for, whatever time they take.
    first : bool
        The one that is packed however late it is: a plan is owed.
    """

    area: Territory
    worth: FloatArray
    day_price: FloatArray
    routes: tuple[IntArray, ...]
    seed: int
    hot: float
    span: Span | None
    first: bool = False


@dataclass(frozen=True)
class Packed:
    """What came of one territory.

    Attributes
    ----------
    routes : dict of int to (r,) int64
        By crew-day of the problem.
    columns : list of Column
        Good crew-days seen on the way.
    """

    routes: dict[int, IntArray]
    columns: list[Column]


def pack_territory(problem: Problem, task: TerritoryTask) -> Packed:
    """Improve the routes of one territory.

    Parameters
    ----------
    problem : Problem
    task : TerritoryTask

    Returns
    -------
    Packed
        Empty if there is nothing to choose from, or time is over.
    """
    area, span = task.area, task.span
    late = span is not None and span.is_over(owed=not any(map(len, task.routes)))
    if not len(area.trees) or (late and not task.first):
        return Packed({}, [])
    _warm_up_once()
    ground = ground_of(problem, area, task.worth, task.day_price)
    position = {int(tree): place for place, tree in enumerate(area.trees)}
    start = [
        Route(r, tuple(position[int(tree)] for tree in route))
        for r, route in enumerate(task.routes)
    ]
    found = ClusterSearch(ground, seed=task.seed, start=start)
    _search(found, task)
    return Packed(
        {
            int(area.crew_days[route.crew_day]): area.trees[list(route.stops)]
            for route in found.routes
        },
        _best_columns(found, area, ground.worth),
    )


@cache
def _warm_up_once() -> None:
    """Keep the time that loading takes in a new worker out of the time for searching."""
    warm_up()


def _search(found: ClusterSearch, task: TerritoryTask) -> None:
    if task.span is None:
        steps = STEPS_PER_DAY * len(task.area.crew_days)
        for number in range(0, steps, STEPS_AT_ONCE):
            heat = task.hot * (COLD / task.hot) ** (number / steps)
            found.run(STEPS_AT_ONCE, hot=heat, cold=heat)
        return
    began = time.monotonic()
    share = 0.0
    # Even when the time is over, what has been begun gets one go.
    while True:
        heat = task.hot * (COLD / task.hot) ** min(1.0, share)
        found.run(STEPS_AT_ONCE, hot=heat, cold=heat)
        share = (time.monotonic() - began) / task.span.seconds
        if share >= 1.0 or time.time() >= task.span.until:
            return


def _best_columns(found: ClusterSearch, area: Territory, worth: FloatArray) -> list[Column]:
    """Best distinct routes of each crew-day, those of the best plan first."""
    kept: list[Column] = []
    by_day: dict[int, list[Route]] = {}
    for route in (*found.routes, *found.pool):
        if route.stops:
            by_day.setdefault(route.crew_day, []).append(route)
    for r, routes in by_day.items():
        ranked = sorted(routes, key=lambda route: -float(worth[list(route.stops)].sum()))
        for route in ranked[:COLUMNS_PER_DAY]:
            trees = tuple(area.trees[list(route.stops)].tolist())
            kept.append(Column(int(area.crew_days[r]), trees))
    return kept
