"""Partial routes, and which of them are needless."""

from typing import NamedTuple

import numpy as np
from numba import njit

from forestcycle.schedule.problem import FloatArray
from forestcycle.schedule.route_search.stops import Steps, Words

TIE = 1e-12


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


@njit(cache=True, nogil=True)
def is_dominated(
    labels: Labels,
    chain: int,
    new: int,
    forgetful: bool,  # noqa: FBT001 - numba knows no keyword-only arguments
) -> bool:
    """Whether a label that was extended before makes another needless.

    Parameters
    ----------
    labels : Labels
    chain : int
        Last label extended from the same tree, -1 for none; ``link`` leads on.
    new : int
        The label in question.
    forgetful : bool
        Disregard what the labels remember.

    Returns
    -------
    bool
    """
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
def add_label(
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
    """Write a label and let it wait at its step.

    Parameters
    ----------
    labels : Labels
        Written to.
    queue : (2, steps + 1) int32
        First and last label that wait at each step, -1 for none; changed in place.
    near : (v, words) uint64
        As in :class:`Stops`.
    new, parent : int
        Its row, and that of the label it extends, -1 for none.
    tree, place, before : int
        Where it stands, and the place that it came from.
    step : int
        Of the grid, at which work at the tree is over.
    minutes, gain : float
        Exact time then, and what was gained.
    """
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
