"""A tighter bound for few trees: sets of routes instead of sums of minutes.

Column generation: a linear program mixes the routes known so far and prices
the trees; at these prices every group of crew-days is searched for routes that
gain more; what they gain at most proves a bound, at whatever prices
(:mod:`forestcycle.schedule.route_limits`). The first prices are those of the
allocation, and the smaller bound is kept.

Three stages, each starting from the prices of the one before: routes on the
grid, which forget all but the last place (quick, and a bound at once); real
routes from a search that proves nothing (so that many are known); real routes
from the search that does.
"""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np

from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule.bound import Bound
from forestcycle.schedule.prices import FLOAT_TOLERANCE
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.relaxation import relax
from forestcycle.schedule.route_limits import (
    RoutePrices,
    SharedLimits,
    as_prices,
    as_rows,
    shared_limits,
)
from forestcycle.schedule.route_master import GroupRoute, RouteMaster
from forestcycle.schedule.route_pricing import GRID_STEPS, Stage, is_real, price_crew_day
from forestcycle.schedule.route_search import Stops
from forestcycle.schedule.route_stops import stops_of_groups

MOST_TREES = 500
LEAST_TRIALS, MOST_TRIALS = 3, 100
PAIRS_A_ROUND = 1_000_000
"""Pairs of trees that may be gone through for every round of packing."""

ENOUGH = {Stage.GRID: 1e-3, Stage.QUICK: 5e-4, Stage.PROOF: 1e-4}
"""A stage ends once its prices can get no better than by this share of the bound."""

RADIUS, LEAST_RADIUS, WIDER, NARROWER = 0.1, 0.005, 1.5, 0.7
LEAST_STEP = 0.1
"""Share of the expected gain at which the box moves."""


@dataclass(frozen=True)
class Work:
    """How long to look for routes: wall seconds, and sets of prices to try at most."""

    seconds: float | None
    trials: int = MOST_TRIALS
    workers: int = 2

    @classmethod
    def of_rounds(cls, rounds: int, problem: Problem, bound: Bound, workers: int) -> "Work":
        """Work that goes with a number of rounds of packing, without a clock.

        Parameters
        ----------
        rounds : int
        problem : Problem
        bound : Bound
        workers : int
            Threads.

        Returns
        -------
        Work
        """
        a_trial = bound.groups.count * problem.trees**2
        trials = rounds * PAIRS_A_ROUND // a_trial
        return cls(None, min(MOST_TRIALS, max(LEAST_TRIALS, trials)), workers)


@dataclass(frozen=True)
class Tightened:
    """A bound, and the real routes that were found on the way."""

    bound: Bound
    routes: list[GroupRoute]


@dataclass
class _Search:
    """One problem, what is known of it, and the best bound so far."""

    problem: Problem
    limits: SharedLimits
    days: IntArray
    stops: list[tuple[IntArray, Stops]]
    master: RouteMaster
    work: Work
    pool: ThreadPoolExecutor
    progress: Progress
    promised: bool
    value: float
    prices: RoutePrices | None = None
    trials: int = 0
    longest: float = 0.0
    began: float = field(default_factory=time.monotonic)

    @property
    def over(self) -> bool:
        """Whether the trials are used up, or the clock leaves no time for another."""
        seconds = self.work.seconds
        passed = time.monotonic() - self.began
        late = seconds is not None and passed + self.longest >= seconds
        return late or self.trials >= self.work.trials


def applies(problem: Problem) -> bool:
    """Whether sets of routes can be priced: few trees, and no work of hardly any minutes.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    bool
    """
    least = problem.capacity_minutes.max() / (10 * GRID_STEPS)
    return problem.trees <= MOST_TREES and bool(problem.service_minutes.min() > least)


def warm_up_routes() -> None:
    """Compile the search of routes, or load it from the cache."""
    way, one = np.array([1.0, 1.0]), np.ones((2, 1), dtype=np.uint64)
    stops = Stops(np.arange(2), np.ones((2, 2)), way, way, way, 9.0, one)
    for stage in Stage:
        price_crew_day(np.arange(2), stops, way, 0.0, 0.0, stage)


def tighten(
    problem: Problem,
    bound: Bound,
    routes: Sequence[GroupRoute],
    work: Work,
    *,
    progress: Progress = silent,
) -> Tightened:
    """Lower a bound by column generation.

    Parameters
    ----------
    problem : Problem
        To which :func:`applies` says yes.
    bound : Bound
        Of the allocation.
    routes : sequence of GroupRoute
        Real routes known already.
    work : Work
        Without seconds the outcome depends on the problem and the routes alone.
    progress : Progress

    Returns
    -------
    Tightened
        With the given bound where nothing better was found in time.
    """
    groups, promised = bound.groups, bound.prices.promised
    limits = shared_limits(problem, groups, promised=promised)
    master = RouteMaster(problem.worth, limits, groups.days)
    master.add(list(routes))
    stops = stops_of_groups(problem, groups, relax(problem, groups))
    with ThreadPoolExecutor(work.workers) as pool:
        search = _Search(
            problem, limits, groups.days, stops, master, work, pool, progress, promised, bound.value
        )
        centre = as_rows(bound.surplus, bound.prices)
        for stage in Stage:
            centre = _descend(search, centre, stage)
            if stage == Stage.GRID:
                _drop_unreal(search)
    if search.prices is not None:
        bound = replace(bound, value=search.value, routes=search.prices)
    return Tightened(bound, master.routes)


def _descend(search: _Search, centre: FloatArray, stage: Stage) -> FloatArray:
    """Try prices in a box that follows the best, until the routes of a stage give no more."""
    if search.over:
        return centre
    radius, height = RADIUS, _height(search, centre, stage)
    while not search.over:
        trial = search.master.propose(centre, radius)
        if trial is None or height - trial.value <= ENOUGH[stage] * abs(height):
            break
        expected, known = height - trial.value, len(search.master.routes)
        reached = _height(search, trial.rows, stage)
        if reached < height - LEAST_STEP * expected:
            centre, height = trial.rows, reached
            radius = min(1.0, WIDER * radius)
        elif reached > height + expected and radius > LEAST_RADIUS:
            radius = max(LEAST_RADIUS, NARROWER * radius)
        elif len(search.master.routes) == known:
            break  # the same routes would propose the same prices again
        search.master.forget_worst(centre)
    return centre


def _height(search: _Search, rows: FloatArray, stage: Stage) -> float:
    """Price all groups, take in the routes found, and note a better bound."""
    started = time.monotonic()
    gain = search.problem.worth - search.limits.per_tree.T @ rows
    charge, known = search.limits.per_day.T @ rows, search.master.best(rows)
    jobs = [
        search.pool.submit(price_crew_day, tree, stops, gain[tree], charge[g], known[g], stage)
        for g, (tree, stops) in enumerate(search.stops)
    ]
    found = [job.result() for job in jobs]
    search.trials += 1
    search.longest = max(search.longest, time.monotonic() - started)
    search.master.add([GroupRoute(g, path) for g, (_, paths) in enumerate(found) for path in paths])
    limit = np.array([most for most, _ in found])
    height = float(search.limits.most @ rows + search.days @ limit)
    if stage != Stage.QUICK:
        _note(search, rows, limit, height)
    return height


def _note(search: _Search, rows: FloatArray, limit: FloatArray, height: float) -> None:
    """Keep prices that prove more than the best so far."""
    size = float(np.abs(search.limits.most * rows).sum() + search.days @ limit)
    value = height + FLOAT_TOLERANCE * size
    if value < search.value:
        search.value = value
        search.prices = as_prices(search.problem, rows, limit, promised=search.promised)
        search.progress(Step("bounding by routes", search.trials, bound=value))


def _drop_unreal(search: _Search) -> None:
    """Forget routes that only the grid allows."""
    real = [is_real(route.trees, *search.stops[route.group]) for route in search.master.routes]
    search.master.keep(np.flatnonzero(real))
