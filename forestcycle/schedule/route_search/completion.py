"""How much a route can still gain, by routes on the grid that remember only the last place."""

from typing import NamedTuple

import numpy as np
from numba import njit

from forestcycle.schedule.problem import FloatArray, IntArray
from forestcycle.schedule.route_search.stops import ROUNDING, Grid, Steps

HOME, NONE = -1, -2
"""In place of a place: the way home, and no place at all."""


class Completion(NamedTuple):
    """Most that can still be gained from a tree at a step.

    ``most`` is the largest gain and ``leads_to`` the place that comes first on
    the way to it (-1: home); ``other`` and ``other_to`` are the same among ways
    on that begin with another place.

    Attributes
    ----------
    most, other : (m, steps + 1) float64
    leads_to, other_to : (m, steps + 1) int32
    """

    most: FloatArray
    leads_to: Steps
    other: FloatArray
    other_to: Steps


@njit(cache=True, nogil=True)
def completions(place: IntArray, grid: Grid, gain: FloatArray) -> Completion:
    """Limit what each tree at each step can still lead to.

    Parameters
    ----------
    place : (m,) int64
    grid : Grid
    gain : (m,) float64
        Of a visit to each tree, above 0.

    Returns
    -------
    Completion
    """
    m, steps = len(place), grid.steps
    ahead, last = grid.ahead, grid.last
    most, leads_to = np.zeros((m, steps + 1)), np.full((m, steps + 1), HOME, np.int32)
    other, other_to = np.full((m, steps + 1), -np.inf), np.full((m, steps + 1), NONE, np.int32)
    for k in range(steps, -1, -1):
        for v in range(m):
            here = place[v]
            ways = (0.0, HOME, -np.inf, NONE)
            for j in range(m):
                if k > last[v, j]:
                    continue
                then = min(k + ahead[v, j], steps)
                onward = most[j, then] + gain[j]
                if onward <= ways[2]:
                    continue
                if place[j] != here:
                    if leads_to[j, then] == here:
                        onward = other[j, then] + gain[j]
                    ways = _with(ways, onward, place[j])
                elif j > v:
                    ways = _with(ways, onward, leads_to[j, then])
                    ways = _with(ways, other[j, then] + gain[j], other_to[j, then])
            most[v, k], leads_to[v, k], other[v, k], other_to[v, k] = ways
    return Completion(most, leads_to, other, other_to)


@njit(cache=True, nogil=True, inline="always")
def _with(
    ways: tuple[float, int, float, int], onward: float, to: int
) -> tuple[float, int, float, int]:
    """Keep the best way on, and the best that begins with another place."""
    most, leads_to, other, other_to = ways
    if onward > most:
        return (onward, to, other, other_to) if to == leads_to else (onward, to, most, leads_to)
    if onward > other and to != leads_to:
        return (most, leads_to, onward, to)
    return ways


@njit(cache=True, nogil=True, inline="always")
def still_to_gain(ahead: Completion, v: int, k: int, before: int) -> float:
    """Limit what a label can still gain.

    Parameters
    ----------
    ahead : Completion
    v : int
        Tree at which the label stands.
    k : int
        Step at which work there is over.
    before : int
        Place that it came from, which it does not go back to.

    Returns
    -------
    float
    """
    same = ahead.leads_to[v, k] == before
    return float(ahead.other[v, k] if same else ahead.most[v, k])


@njit(cache=True, nogil=True)
def grid_limit(grid: Grid, ahead: Completion, gain: FloatArray) -> float:
    """Limit the gain of any route by what routes on the grid gain.

    Parameters
    ----------
    grid : Grid
    ahead : Completion
    gain : (m,) float64

    Returns
    -------
    float
        At least 0: a crew-day may stay free.
    """
    limit = 0.0
    for j in range(len(gain)):
        if grid.first[j] >= 0:
            limit = max(limit, gain[j] + ahead.most[j, min(grid.first[j], grid.steps)])
    return limit


@njit(cache=True, nogil=True)
def grid_route(
    place: IntArray, grid: Grid, ahead: Completion, gain: FloatArray, start: int, route: IntArray
) -> int:
    """Follow the best way on from a tree that begins the day.

    Parameters
    ----------
    place : (m,) int64
    grid : Grid
    ahead : Completion
    gain : (m,) float64
    start : int
    route : (steps + 1,) int64
        Filled with the trees in order.

    Returns
    -------
    int
        How many trees.
    """
    v, k, before, count = start, min(grid.first[start], grid.steps), NONE, 0
    while v >= 0:
        route[count] = v
        count += 1
        hope, following = still_to_gain(ahead, v, k, before), -1
        for j in range(len(gain)):
            if following < 0 and hope > 0.0 and k <= grid.last[v, j]:
                then = min(k + grid.ahead[v, j], grid.steps)
                here = place[v]
                if (place[j] == here and j <= v) or (place[j] != here and place[j] == before):
                    continue
                came = before if place[j] == here else here
                if abs(gain[j] + still_to_gain(ahead, j, then, came) - hope) <= ROUNDING:
                    following, next_step, next_before = j, then, came
        v = following
        if v >= 0:
            k, before = next_step, next_before
    return count
