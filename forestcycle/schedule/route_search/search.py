"""Extend partial routes in the order of their time until none can gain more than is known."""

import numpy as np
from numba import njit

from forestcycle.schedule.problem import FloatArray
from forestcycle.schedule.route_search.completion import NONE, Completion, still_to_gain
from forestcycle.schedule.route_search.labels import Labels, add_label, is_dominated
from forestcycle.schedule.route_search.stops import Grid, Steps, Stops


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
        if total + still_to_gain(ahead, j, then, came) <= best:
            continue
        if count >= rows:
            return rows + 1, best
        add_label(labels, queue, stops.near, count, label, j, to, came, then, done, total)
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
            add_label(labels, queue, stops.near, count, -1, j, place, NONE, step, done, gain[j])
            best = max(best, gain[j])
            count += 1
    for step in range(grid.steps + 1):
        label = queue[0, step]
        while label >= 0:
            v = labels.tree[label]
            hope = labels.gain[label] + still_to_gain(ahead, v, step, labels.before[label])
            following = -1
            if hope > best and not is_dominated(labels, extended[v], label, forgetful):
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
