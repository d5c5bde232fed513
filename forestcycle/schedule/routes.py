"""A tighter bound for few trees: sets of routes instead of sums of minutes.

Column generation: a linear program mixes the routes known so far and prices
the trees; at these prices every group of crew-days is searched for routes that
gain more; what they gain at most proves a bound, at whatever prices
(:mod:`forestcycle.schedule.route_limits`). The first prices are those of the
allocation. At them the bound is never above that of the allocation, since the
rows of a crew-day limit the gain of any of its routes.

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
from forestcycle.schedule.route_search import (
    Stops,
    completions,
    grid_limit,
    grid_of,
    grid_route,
    search_routes,
)
from forestcycle.schedule.route_stops import only, stops_of_groups

MOST_TREES = 500
GRID_STEPS = 200
LEAST_GAIN = 1e-9
LABELS = 300_000
ROUTES_AT_ONCE = 30
NEARLY = 0.97
ENOUGH = 2e-4
STAGES = ("grid", "quick", "proof")


@dataclass(frozen=True)
class Work:
    """How long to look for routes.

    Attributes
    ----------
    seconds : float or None
        Wall clock.
    trials : int
        Prices to try at most; without a clock, this alone decides.
    workers : int
    """

    seconds: float | None
    trials: int = 150
    workers: int = 2


@dataclass(frozen=True)
class Tightened:
    """A bound, and the real routes that were found on the way, worthiest first."""

    bound: Bound
    routes: list[GroupRoute]


@dataclass(frozen=True)
class _Answer:
    """What the search of every group came to at some prices."""

    limit: FloatArray
    routes: list[GroupRoute]
    complete: bool


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
    value: float
    prices: RoutePrices | None = None
    promised: bool = True
    trials: int = 0
    began: float = field(default_factory=time.monotonic)

    @property
    def over(self) -> bool:
        """Whether the clock or the number of trials is used up."""
        seconds = self.work.seconds
        late = seconds is not None and time.monotonic() - self.began >= seconds
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
    progress : Progress

    Returns
    -------
    Tightened
        The given bound where nothing better was found in time.
    """
    trees, promised = relax(problem, bound.groups), bound.prices.promised
    limits = shared_limits(problem, bound.groups, promised=promised)
    master = RouteMaster(problem.worth, limits, bound.groups.days)
    master.add(list(routes))
    with ThreadPoolExecutor(work.workers) as pool:
        search = _Search(
            problem=problem,
            limits=limits,
            days=bound.groups.days,
            stops=stops_of_groups(problem, bound.groups, trees),
            master=master,
            work=work,
            pool=pool,
            progress=progress,
            value=bound.value,
            promised=promised,
        )
        centre = as_rows(bound.surplus, bound.prices)
        for stage in STAGES:
            centre = _descend(search, centre, stage)
            if stage == "grid":
                master.keep(np.flatnonzero([_is_real(search, route) for route in master.routes]))
    if search.prices is not None:
        bound = replace(bound, value=search.value, routes=search.prices)
    return Tightened(bound, master.routes)


def _descend(search: _Search, centre: FloatArray, stage: str) -> FloatArray:
    """Try prices in a box that follows the best, until routes of this stage give no more."""
    radius = 0.1
    height = _height(search, centre, stage)
    while not search.over:
        trial = search.master.propose(centre, radius)
        if trial is None:
            break
        expected = height - trial.value
        if DEBUG: print(f"{stage} {search.trials} height {height:.2f} model {trial.value:.2f} radius {radius:.3f} value {search.value:.2f} routes {len(search.master.routes)} t {time.monotonic()-search.began:.1f}", flush=True)
        if expected <= ENOUGH * abs(height):
            break
        reached = _height(search, trial.rows, stage)
        if reached < height - 0.1 * expected:
            centre, height = trial.rows, reached
            radius = min(1.0, 1.5 * radius)
        elif reached > height + expected:
            radius = max(0.005, 0.7 * radius)
        search.master.forget_worst(centre)
    return centre

DEBUG = False

def _height(search: _Search, rows: FloatArray, stage: str) -> float:
    """Price all groups at some prices, take in the routes found, and note a better bound."""
    answer = _ask(search, rows, stage)
    search.trials += 1
    search.master.add(answer.routes)
    height = float(search.limits.most @ rows + search.days @ answer.limit)
    slack = FLOAT_TOLERANCE * float(search.limits.most @ np.abs(rows) + search.days @ answer.limit)
    if stage != "quick" and height + slack < search.value:
        search.value = height + slack
        search.prices = as_prices(search.problem, rows, answer.limit, promised=search.promised)
        search.progress(Step("bounding by routes", search.trials, bound=search.value))
    return height


def _ask(search: _Search, rows: FloatArray, stage: str) -> _Answer:
    gain = search.problem.worth - search.limits.per_tree.T @ rows
    charge, known = search.limits.per_day.T @ rows, search.master.best(rows)
    jobs = [
        search.pool.submit(_search_group, g, tree, stops, gain[tree], charge[g], known[g], stage)
        for g, (tree, stops) in enumerate(search.stops)
    ]
    found = [job.result() for job in jobs]
    return _Answer(
        limit=np.array([limit for limit, _ in found]),
        routes=[route for _, routes in found for route in routes],
        complete=True,
    )


def _search_group(
    g: int, tree: IntArray, stops: Stops, gain: FloatArray, charge: float, known: float, stage: str
) -> tuple[float, list[GroupRoute]]:
    """Limit what a crew-day of a group can gain, and list routes that gain about as much."""
    live = np.flatnonzero(gain > LEAST_GAIN)
    if not len(live):
        return 0.0, []
    stops, gain, tree = only(stops, live), gain[live], tree[live]
    grid = grid_of(stops, min(stops.capacity / GRID_STEPS, float(stops.service.min())))
    ahead = completions(stops.unit, grid, gain)
    limit = grid_limit(grid, ahead, gain)
    if limit <= charge:
        return 0.0, []
    if stage == "grid":
        first = np.clip(grid.first, 0, grid.steps)
        hope = np.where(grid.first >= 0, gain + ahead.most[np.arange(len(gain)), first], -np.inf)
        starts = np.argsort(-hope, kind="stable")[:ROUTES_AT_ONCE]
        route = np.empty(grid.steps + 2, dtype=np.int64)
        routes = []
        for start in starts[hope[starts] > charge + NEARLY * known]:
            count = grid_route(stops.unit, grid, ahead, gain, start, route)
            routes.append(GroupRoute(g, tuple(tree[route[:count]].tolist())))
        return limit - charge, routes
    quick = stage == "quick"
    proven, count, labels = search_routes(
        stops, grid, ahead, gain, charge + known * NEARLY, LABELS, quick
    )
    count = min(count, LABELS)
    routes = []
    taken = set()
    for label in np.argsort(-labels.gain[:count], kind="stable").tolist():
        if len(routes) == ROUTES_AT_ONCE or labels.gain[label] <= charge + NEARLY * known:
            break
        if label in taken:
            continue
        path = []
        while label >= 0:
            taken.add(label)
            path.append(int(tree[labels.tree[label]]))
            label = int(labels.parent[label])
        routes.append(GroupRoute(g, tuple(reversed(path))))
    if quick:
        limit = max([known, *(labels.gain[:count].max(initial=0.0) - charge,)])
        return limit, routes
    return max(0.0, min(limit, proven) - charge), routes


def _is_real(search: _Search, route: GroupRoute) -> bool:
    """Whether a route visits each tree once and fits into the day."""
    tree, stops = search.stops[route.group]
    if len(set(route.trees)) < len(route.trees):
        return False
    where = {int(t): k for k, t in enumerate(tree)}
    at = np.array([where[t] for t in route.trees])
    clock = 0.0
    for k, v in enumerate(at):
        clock += stops.way_out[v] if k == 0 else stops.leg[at[k - 1], v]
        clock = max(clock, stops.opens[v])
        if clock > stops.latest[v]:
            return False
        clock += stops.service[v]
    return bool(clock + stops.way_back[at[-1]] <= stops.capacity)
