"""The good routes seen on the way, each set of trees once."""

import numpy as np
from numba import njit

from forestcycle.schedule.kernel.arrays import Pool, RandomBits, Routes
from forestcycle.schedule.problem import BoolArray


@njit(cache=True, nogil=True)
def _mix(value: int) -> np.uint64:
    """Scramble the bits of a number (the finalizer of splitmix64)."""
    z = np.uint64(value) + np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


@njit(cache=True, nogil=True)
def _is_new(seen: RandomBits, key: np.uint64) -> bool:
    """Enter a key into an open hash table; False if there already or full."""
    size = np.uint64(len(seen))
    slot = key % size
    for _ in range(64):
        if seen[slot] == key:
            return False
        if seen[slot] == 0:
            seen[slot] = key
            return True
        slot = (slot + np.uint64(1)) % size
    return False


@njit(cache=True, nogil=True)
def gather(routes: Routes, touched: BoolArray, pool: Pool) -> None:
    """Put the changed routes whose set of trees is new into the pool.

    Parameters
    ----------
    routes : Routes
    touched : (k,) bool
        Crew-days whose routes have changed.
    pool : Pool
        Added to; once full, the oldest rows make way.
    """
    for r in range(len(routes.length)):
        count = routes.length[r]
        if not touched[r] or count == 0:
            continue
        key = _mix(r + 1_000_003)
        for p in range(count):
            key += _mix(routes.stop[r, p])
        if not _is_new(pool.seen, key | np.uint64(1)):
            continue
        row = pool.rows[0] % len(pool.length)
        pool.rows[0] += 1
        pool.length[row] = count
        pool.crew_day[row] = r
        for p in range(count):
            pool.stop[row, p] = routes.stop[r, p]
