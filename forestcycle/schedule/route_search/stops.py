"""What a group of crew-days could visit, and its minutes as steps of a grid."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from forestcycle.schedule.problem import FloatArray, IntArray

Words = NDArray[np.uint64]
Steps = NDArray[np.int32]

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
