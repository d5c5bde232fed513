"""Limit what a crew-day can gain at given prices, and list the routes that gain about as much."""

from enum import StrEnum

import numpy as np

from forestcycle.schedule.problem import FloatArray, IntArray
from forestcycle.schedule.route_search import (
    Completion,
    Grid,
    Labels,
    Stops,
    completions,
    grid_limit,
    grid_of,
    grid_route,
    search_routes,
)
from forestcycle.schedule.route_stops import only

GRID_STEPS = 200
LEAST_GAIN = 1e-9
MOST_LABELS, MOST_QUICK_LABELS = 300_000, 60_000
ROUTES_AT_ONCE = 30
NEARLY = 0.97

Paths = list[tuple[int, ...]]
"""Trees of each route in order, positions in the problem's arrays."""


class Stage(StrEnum):
    """How routes are searched, from rough to exact."""

    GRID = "routes on the grid"
    QUICK = "real routes, without proof"
    PROOF = "real routes, with proof"


def price_crew_day(
    tree: IntArray, stops: Stops, gain: FloatArray, charge: float, known: float, stage: Stage
) -> tuple[float, Paths]:
    """Search the routes of a group of crew-days.

    Parameters
    ----------
    tree : (m,) int64
        Positions of the trees in the problem's arrays.
    stops : Stops
    gain : (m,) float64
        Worth of each tree less its prices.
    charge : float
        What the use of the crew-day costs.
    known : float
        What a known route gains beyond that, at least 0.
    stage : Stage

    Returns
    -------
    limit : float
        No route gains more, at least 0; proven unless the stage is ``QUICK``.
    routes : list of tuple of int
        Routes that gain nearly what is known, or more.
    """
    live = np.flatnonzero(gain > LEAST_GAIN)
    if not len(live):
        return 0.0, []
    tree, stops, gain = tree[live], only(stops, live), gain[live]
    grid = grid_of(stops, min(stops.capacity / GRID_STEPS, float(stops.service.min())))
    ahead = completions(stops.place, grid, gain)
    limit = grid_limit(grid, ahead, gain)
    if limit <= charge:
        return 0.0, []
    least = charge + NEARLY * known
    if stage == Stage.GRID:
        return limit - charge, _grid_paths(tree, stops, grid, ahead, gain, least)
    forgetful = stage == Stage.QUICK
    most = MOST_QUICK_LABELS if forgetful else MOST_LABELS
    proven, count, labels = search_routes(stops, grid, ahead, gain, least, most, forgetful)
    found = min(count, most)
    paths = _label_paths(tree, labels, found, least)
    if forgetful:
        return max(known, float(labels.gain[:found].max(initial=0.0)) - charge), paths
    return max(0.0, min(limit, proven) - charge), paths


def _grid_paths(
    tree: IntArray, stops: Stops, grid: Grid, ahead: Completion, gain: FloatArray, least: float
) -> Paths:
    """Best routes on the grid, one for each tree that may begin the day."""
    first = np.clip(grid.first, 0, grid.steps)
    hope = gain + ahead.most[np.arange(len(gain)), first]
    hope[grid.first < 0] = -np.inf
    starts = np.argsort(-hope, kind="stable")[:ROUTES_AT_ONCE]
    route = np.empty(grid.steps + 2, dtype=np.int64)
    paths = []
    for start in starts[hope[starts] > least].tolist():
        count = grid_route(stops.place, grid, ahead, gain, start, route)
        paths.append(tuple(tree[route[:count]].tolist()))
    return paths


def _label_paths(tree: IntArray, labels: Labels, count: int, least: float) -> Paths:
    """Best routes among the labels, none of which is the beginning of another."""
    paths: Paths = []
    passed: set[int] = set()
    for label in np.argsort(-labels.gain[:count], kind="stable").tolist():
        if len(paths) == ROUTES_AT_ONCE or labels.gain[label] <= least:
            break
        if label not in passed:
            line = _line_of(labels, label)
            passed.update(line)
            paths.append(tuple(tree[labels.tree[line]].tolist()))
    return paths


def _line_of(labels: Labels, label: int) -> list[int]:
    """List a label and those that it came from, the first one first."""
    line = []
    while label >= 0:
        line.append(label)
        label = int(labels.parent[label])
    return line[::-1]


def is_real(trees: tuple[int, ...], tree: IntArray, stops: Stops) -> bool:
    """Whether a route visits each tree once and fits into the day.

    Parameters
    ----------
    trees : tuple of int
    tree : (m,) int64
        Positions of the trees of ``stops`` in the problem's arrays.
    stops : Stops

    Returns
    -------
    bool
    """
    order = np.argsort(tree)
    at = order[np.searchsorted(tree, trees, sorter=order)]
    clock = float(stops.way_out[at[0]])
    for k, v in enumerate(at):
        clock += stops.service[v] + (stops.leg[at[k - 1], v] if k else 0.0)
    once = len(set(trees)) == len(trees)
    return once and bool(clock + stops.way_back[at[-1]] <= stops.capacity)
