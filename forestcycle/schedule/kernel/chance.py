"""Random numbers of the search's own: one seed gives one outcome on any thread."""

import numpy as np
from numba import njit

from forestcycle.schedule.kernel.arrays import RandomBits


@njit(cache=True, nogil=True, inline="always")
def _next(state: RandomBits) -> np.uint64:
    """Advance an xorshift64* generator; return 64 random bits."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    scrambled: np.uint64 = x * np.uint64(2685821657736338717)
    return scrambled


@njit(cache=True, nogil=True, inline="always")
def uniform(state: RandomBits) -> float:
    """Draw a number from 0 up to, but not, 1.

    Parameters
    ----------
    state : (1,) uint64
        Of the random generator, not 0; changed in place.

    Returns
    -------
    float
    """
    return np.float64(_next(state) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True, nogil=True, inline="always")
def below(state: RandomBits, limit: int) -> int:
    """Draw a whole number from 0 to limit - 1.

    Parameters
    ----------
    state : (1,) uint64
        Of the random generator, not 0; changed in place.
    limit : int
        At least 1.

    Returns
    -------
    int
    """
    return int(uniform(state) * limit)
