"""Taking trees out of the routes: strings of neighbours, or single stops."""

import numpy as np
from numba import njit

from forestcycle.schedule.kernel.arrays import NOWHERE, Ground, RandomBits, Routes
from forestcycle.schedule.kernel.chance import below, uniform
from forestcycle.schedule.kernel.route import cut, position_of
from forestcycle.schedule.problem import BoolArray

MEAN_REMOVED = 10
LONGEST_STRING = 12


@njit(cache=True, nogil=True)
def remove_strings(
    ground: Ground, routes: Routes, touched: BoolArray, centre: int, state: RandomBits
) -> None:
    """Take a string of stops out of each of several routes near one tree.

    Parameters
    ----------
    ground : Ground
    routes : Routes
        Changed in place; times are left stale.
    touched : (k,) bool
        Crew-days whose routes have changed; added to.
    centre : int
        The tree, which need not be in a route.
    state : (1,) uint64
        Of the random generator.
    """
    m = len(ground.service)
    served, used = 0, 0
    for r in range(len(routes.length)):
        served += routes.length[r]
        used += routes.length[r] > 0
    if served == 0:
        return
    longest = min(float(LONGEST_STRING), max(1.0, served / used))
    mean_strings = 4.0 * MEAN_REMOVED / (1.0 + longest) - 1.0
    strings = np.int64(uniform(state) * mean_strings + 1.0)
    for rank in range(m):
        v = ground.near[centre, rank]
        r = routes.where[v]
        if r == NOWHERE or touched[r]:
            continue
        most = min(longest, float(routes.length[r]))
        count = min(int(uniform(state) * most + 1.0), int(routes.length[r]))
        p = position_of(routes, r, v)
        low = max(0, p - count + 1)
        high = min(p, int(routes.length[r]) - count)
        cut(routes, r, low + below(state, high - low + 1), count)
        touched[r] = True
        strings -= 1
        if strings == 0:
            return


@njit(cache=True, nogil=True)
def remove_scattered(routes: Routes, touched: BoolArray, state: RandomBits) -> None:
    """Take out single stops, each with the same chance.

    Parameters
    ----------
    routes : Routes
        Changed in place; times are left stale.
    touched : (k,) bool
        Crew-days whose routes have changed; added to.
    state : (1,) uint64
        Of the random generator.
    """
    share = 0.1 + 0.3 * uniform(state)
    for r in range(len(routes.length)):
        p = 0
        while p < routes.length[r]:
            if uniform(state) < share:
                cut(routes, r, p, 1)
                touched[r] = True
            else:
                p += 1
