"""Where in a route a tree costs the fewest extra minutes.

Now and then a place is overlooked on purpose, so that the same gap is not
always filled by the same tree (insertion with blinks).
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forestcycle.schedule.kernel.arrays import NEVER, NOWHERE, Ground, RandomBits, Routes
from forestcycle.schedule.kernel.chance import uniform
from forestcycle.schedule.problem import FloatArray, IntArray

BLINK = 0.01


@njit(cache=True, nogil=True)
def cheapest_insertion(
    leg: FloatArray,
    into: FloatArray,
    out: FloatArray,
    back: FloatArray,
    stop: NDArray[np.int32],
    gap: FloatArray,
    length: IntArray,
    r: int,
    v: int,
    most: float,
    state: RandomBits,
) -> tuple[float, int]:
    """Find the place in a route where a stop costs the least extra travel.

    Takes arrays, not the tuples that hold them: reading a field of a tuple
    counts a reference, which would cost more than all else in this loop.

    Parameters
    ----------
    leg, into, out, back : float64
        Minutes, as in :class:`Ground`.
    stop, gap, length
        Routes, as in :class:`Routes`.
    r : int
        Route, by its crew-day.
    v : int
        Stop to put in.
    most : float
        Extra minutes that it may cost.
    state : (1,) uint64
        Of the random generator.

    Returns
    -------
    minutes : float
        Infinite where no place costs so little.
    position : int
        -1 then.
    """
    count = length[r]
    if count == 0:
        extra = out[r, v] + back[r, v]
        return (extra, 0) if extra <= most else (NEVER, NOWHERE)
    best, place = most, NOWHERE
    arriving = out[r, v]
    for p in range(count):
        w = stop[r, p]
        extra = arriving + leg[v, w] - gap[r, p]
        if extra <= best and uniform(state) >= BLINK:
            best, place = extra, p
        arriving = into[v, w]
    extra = arriving + back[r, v] - gap[r, count]
    if extra <= best and uniform(state) >= BLINK:
        best, place = extra, count
    return (best, place) if place != NOWHERE else (NEVER, NOWHERE)


@njit(cache=True, nogil=True)
def cheapest_insertion_in_time(
    ground: Ground, routes: Routes, r: int, v: int, state: RandomBits
) -> tuple[float, int]:
    """Find the place in a route where a stop costs the fewest minutes, waiting for hours included.

    Parameters
    ----------
    ground : Ground
    routes : Routes
    r : int
        Route, by its crew-day.
    v : int
        Stop to put in.
    state : (1,) uint64
        Of the random generator.

    Returns
    -------
    minutes : float
        By which the crew is back later, the service among them; infinite where no
        place keeps all hours.
    position : int
        -1 then.
    """
    best, place = NEVER, NOWHERE
    if ground.latest[r, v] < 0.0:
        return best, place
    late, early = ground.latest[r, v], ground.earliest[r, v]
    service, count = ground.service[v], routes.length[r]
    stop, arrive, latest = routes.stop[r], routes.arrive[r], routes.latest[r]
    leg, into = ground.leg[v], ground.into[v]
    begin = ground.out[r, v]
    for p in range(count + 1):
        begin = max(begin, early)
        if begin > late:
            break
        if p < count:
            w = stop[p]
            then = max(begin + service + leg[w], ground.earliest[r, w])
            extra = then - arrive[p]
            fits = then <= latest[p]
            begin = arrive[p] + ground.service[w] + into[w]
        else:
            then = begin + service + ground.back[r, v]
            extra = then - routes.minutes[r]
            fits = then <= ground.capacity[r]
        if fits and extra < best and uniform(state) >= BLINK:
            best, place = extra, p
    return best, place
