"""What the compiled search works on: the ground, its routes, and room to work in."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray

RandomBits = NDArray[np.uint64]

NOWHERE = -1
NEVER = np.inf


class Ground(NamedTuple):
    """What stays the same while a cluster is searched: m stops, k crew-days.

    ``leg[i, j]`` are minutes from stop i to stop j with parking, ``into`` the
    same with the axes swapped (rows read in one go are faster); ``out`` and
    ``back`` (k, m) those from and to each crew-day's depot; ``earliest`` and
    ``latest`` (k, m) bound the start of service, ``latest`` below 0 where the
    crew-day may not visit the stop at all; ``day_price`` (k,) is the worth that
    using a crew-day costs; ``bonus`` (k, m) is what a stop is worth on that
    crew-day besides ``worth``, and ``pull`` (k, m) the extra minutes that an
    insertion there may take for it. ``near`` (m, m) lists stops by distance,
    ``orders`` (o, m) fixed insertion orders, and ``appeal`` (a, m)
    powers of worth for insertion by worth per minute.
    """

    leg: FloatArray
    into: FloatArray
    out: FloatArray
    back: FloatArray
    service: FloatArray
    worth: FloatArray
    capacity: FloatArray
    earliest: FloatArray
    latest: FloatArray
    near: NDArray[np.int32]
    orders: NDArray[np.int32]
    appeal: FloatArray
    day_price: FloatArray
    bonus: FloatArray
    pull: FloatArray
    timed: bool
    minute_price: float


class Routes(NamedTuple):
    """Routes of k crew-days: ``stop[r, :length[r]]`` in order.

    ``gap`` are the minutes of the leg before each stop, and of the way home.
    ``arrive`` is the start of each service, ``latest`` the last start that
    keeps the rest of the route feasible, ``minutes`` the time back at the
    depot, ``where`` (m,) the route of each stop or -1.
    """

    stop: NDArray[np.int32]
    length: IntArray
    gap: FloatArray
    arrive: FloatArray
    latest: FloatArray
    minutes: FloatArray
    where: IntArray


class Pool(NamedTuple):
    """Distinct routes seen: a ring of rows, and a hash table of their sets."""

    stop: NDArray[np.int32]
    length: IntArray
    crew_day: IntArray
    rows: IntArray
    seen: NDArray[np.uint64]


class Scratch(NamedTuple):
    """Work arrays of one search, so that the loop allocates nothing."""

    cost: FloatArray
    position: IntArray
    active: NDArray[np.int32]
    touched: BoolArray
    improved: BoolArray
    shut: BoolArray
