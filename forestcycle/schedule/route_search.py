"""The worthiest route of one crew-day at given prices: the compiled inner loop.

Labels are partial routes. They are extended in the order of their time, and
three things keep them few:

* **Memory.** A label remembers, of the places it has been to, only those near
  where it stands (ng-routes: Baldacci, Mingozzi and Roberti 2011). A route may
  come back to what it has forgotten. That only adds routes, so the largest
  gain found is still an upper limit on the gain of real ones.
* **Dominance.** Of two labels at one tree, the one that is no later, gained no
  less and remembers no more makes the other needless.
* **Completion.** How much a label can still gain is limited by what a route
  that remembers only the last place could gain in the minutes left. Those
  minutes stand on a grid, each leg rounded down to it, which again only adds
  routes. A label that cannot come to more than is known is dropped.

Hours of the day are left aside, which adds routes too. Then a route need not
visit a *place* twice (triangle inequality), and does the trees there in the
order of their numbers, which loses nothing.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forestcycle.schedule.problem import FloatArray, IntArray

Words = NDArray[np.uint64]
Steps = NDArray[np.int32]

HOME, NONE = -1, -2
"""In place of a place: the way home, and no place at all."""
TIE = 1e-12
ROUNDING = 1e-9


class Stops(NamedTuple):
    """What a group of crew-days could visit: m trees at v places.

    Attributes
    ----------
    place : (m,) int64
        Ascending.
    leg : (m, m) float64
        Minutes from the end of work at a tree to the start at another.
    way_out, way_back : (m,) float64
        Minutes from and to the depot, parking included.
    service : (m,) float64
        Above 0.
    capacity : float
    near : (v, words) uint64
        Bits of the places that a label at a place remembers, itself included.
    """

    place: IntArray
    leg: FloatArray
    way_out: FloatArray
    way_back: FloatArray
    service: FloatArray
    capacity: float
    near: Words


class Grid(NamedTuple):
    """Minutes as steps, rounded so that no route is lost.

    Attributes
    ----------
    minutes : float
        Of one step.
    ahead : (m, m) int32
        Steps from the end of work at a tree to the end at another.
    last : (m, m) int32
        Last step at which the one may be left for the other.
    first : (m,) int32
        Step at which work at a tree is over that begins the day; -1 where the
        tree does not fit into the day.
    steps : int
    """

    minutes: float
    ahead: Steps
    last: Steps
    first: Steps
    steps: int


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


class Labels(NamedTuple):
    """Partial routes, one per row.

    ``before`` is the place that the label came from, ``link`` chains the labels
    that wait at a step, and later those that were extended from a tree.
    """

    tree: Steps
    parent: Steps
    before: Steps
    link: Steps
    minutes: FloatArray
    gain: FloatArray
    memory: Words


def grid_of(stops: Stops, minutes: float) -> Grid:
    """Put a group's legs on a grid.

    Parameters
    ----------
    stops : Stops
    minutes : float
        Of one step; at most the least service minutes.

    Returns
    -------
    Grid
    """
    leave_by = stops.capacity - stops.way_back - stops.service
    last = np.floor((leave_by[None, :] - stops.leg) / minutes + ROUNDING)
    fits = stops.way_out <= leave_by
    return Grid(
        minutes=minutes,
        ahead=_steps((stops.leg + stops.service[None, :]) / minutes),
        last=np.clip(last, -1, 2**30).astype(np.int32),
        first=np.where(fits, _steps((stops.way_out + stops.service) / minutes), -1).astype(
            np.int32
        ),
        steps=int(stops.capacity / minutes),
    )


def _steps(count: FloatArray) -> Steps:
    return np.clip(np.floor(count - ROUNDING), 0, 2**30).astype(np.int32)


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
def _still(ahead: Completion, v: int, k: int, before: int) -> float:
    """Limit what a label can still gain that came from place ``before``."""
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
def _dominated(
    labels: Labels,
    chain: int,
    new: int,
    forgetful: bool,  # noqa: FBT001 - numba knows no keyword-only arguments
) -> bool:
    """Whether a label that was extended before makes ``new`` needless."""
    minutes, gain = labels.minutes[new] + TIE, labels.gain[new] - TIE
    while chain >= 0:
        if labels.gain[chain] >= gain and labels.minutes[chain] <= minutes:
            within = True
            for w in range(labels.memory.shape[1]):
                within &= forgetful or not labels.memory[chain, w] & ~labels.memory[new, w]
            if within:
                return True
        chain = labels.link[chain]
    return False


@njit(cache=True, nogil=True)
def _add(
    labels: Labels,
    queue: Steps,
    near: Words,
    new: int,
    parent: int,
    tree: int,
    place: int,
    before: int,
    step: int,
    minutes: float,
    gain: float,
) -> None:
    """Write a label and let it wait at its step; ``queue`` holds heads and tails."""
    labels.tree[new], labels.parent[new], labels.before[new] = tree, parent, before
    labels.minutes[new], labels.gain[new], labels.link[new] = minutes, gain, -1
    for w in range(near.shape[1]):
        kept = labels.memory[parent, w] & near[place, w] if parent >= 0 else np.uint64(0)
        labels.memory[new, w] = kept
    labels.memory[new, place // 64] |= np.uint64(1) << np.uint64(place % 64)
    if queue[0, step] < 0:
        queue[0, step] = new
    else:
        labels.link[queue[1, step]] = new
    queue[1, step] = new


@njit(cache=True, nogil=True)
def _extend(
    stops: Stops,
    grid: Grid,
    ahead: Completion,
    gain: FloatArray,
    labels: Labels,
    queue: Steps,
    label: int,
    step: int,
    count: int,
    best: float,
) -> tuple[int, float]:
    """Extend a label to every tree that can lead to more than ``best``.

    ``count`` goes up to the number of rows, and beyond it where these are too few.
    """
    v, before = labels.tree[label], labels.before[label]
    here, rows = stops.place[v], len(labels.tree)
    for j in range(len(gain)):
        to = stops.place[j]
        if step > grid.last[v, j] or (to == here and j <= v):
            continue
        bits = labels.memory[label, to // 64] >> np.uint64(to % 64)
        if to != here and bits & np.uint64(1):
            continue
        done = labels.minutes[label] + stops.leg[v, j] + stops.service[j]
        if done + stops.way_back[j] > stops.capacity:
            continue
        then = min(int(done / grid.minutes), grid.steps)
        came = before if to == here else here
        total = labels.gain[label] + gain[j]
        if total + _still(ahead, j, then, came) <= best:
            continue
        if count >= rows:
            return rows + 1, best
        _add(labels, queue, stops.near, count, label, j, to, came, then, done, total)
        best = max(best, total)
        count += 1
    return count, best


@njit(cache=True, nogil=True)
def search_routes(
    stops: Stops,
    grid: Grid,
    ahead: Completion,
    gain: FloatArray,
    known: float,
    most_labels: int,
    forgetful: bool,  # noqa: FBT001 - numba knows no keyword-only arguments
) -> tuple[float, int, Labels]:
    """Find the routes that gain most.

    Parameters
    ----------
    stops : Stops
    grid : Grid
    ahead : Completion
    gain : (m,) float64
        Of a visit to each tree, above 0.
    known : float
        Routes that gain no more than this are of no interest.
    most_labels : int
        Work limit, at least one for each tree.
    forgetful : bool
        Let dominance disregard what a label remembers: few labels, good
        routes, and a limit that proves nothing.

    Returns
    -------
    limit : float
        No route gains more, unless ``forgetful``.
    count : int
        Labels made; more than ``most_labels`` if these were too few.
    labels : Labels
        Each of them is a route that may go home.
    """
    m = len(gain)
    labels = Labels(
        np.empty(most_labels, np.int32),
        np.empty(most_labels, np.int32),
        np.empty(most_labels, np.int32),
        np.empty(most_labels, np.int32),
        np.empty(most_labels),
        np.empty(most_labels),
        np.empty((most_labels, stops.near.shape[1]), np.uint64),
    )
    queue = np.full((2, grid.steps + 1), -1, np.int32)
    extended = np.full(m, -1, np.int32)
    count, best, limit = 0, known, known
    for j in range(m):
        step = min(grid.first[j], grid.steps)
        if step >= 0 and gain[j] + ahead.most[j, step] > best:
            done = stops.way_out[j] + stops.service[j]
            place = stops.place[j]
            _add(labels, queue, stops.near, count, -1, j, place, NONE, step, done, gain[j])
            best = max(best, gain[j])
            count += 1
    for step in range(grid.steps + 1):
        label = queue[0, step]
        while label >= 0:
            v = labels.tree[label]
            hope = labels.gain[label] + _still(ahead, v, step, labels.before[label])
            following = -1
            if hope > best and not _dominated(labels, extended[v], label, forgetful):
                if count <= most_labels:
                    count, best = _extend(
                        stops, grid, ahead, gain, labels, queue, label, step, count, best
                    )
                if count > most_labels:
                    limit = max(limit, hope)
                following = labels.link[label]
                labels.link[label], extended[v] = extended[v], label
            else:
                following = labels.link[label]
            label = following
    return max(limit, best), count, labels


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
        hope, following = _still(ahead, v, k, before), -1
        for j in range(len(gain)):
            if following < 0 and hope > 0.0 and k <= grid.last[v, j]:
                then = min(k + grid.ahead[v, j], grid.steps)
                here = place[v]
                if (place[j] == here and j <= v) or (place[j] != here and place[j] == before):
                    continue
                came = before if place[j] == here else here
                if abs(gain[j] + _still(ahead, j, then, came) - hope) <= ROUNDING:
                    following, next_step, next_before = j, then, came
        v = following
        if v >= 0:
            k, before = next_step, next_before
    return count
