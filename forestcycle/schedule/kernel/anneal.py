"""The loop of the search: ruin, recreate, and keep the outcome or not."""

import numpy as np
from numba import njit

from forestcycle.schedule.kernel.arrays import Ground, Pool, RandomBits, Routes, Scratch
from forestcycle.schedule.kernel.chance import below, uniform
from forestcycle.schedule.kernel.fill_by_bargain import fill_by_bargain
from forestcycle.schedule.kernel.fill_in_order import fill_in_order
from forestcycle.schedule.kernel.pool import gather
from forestcycle.schedule.kernel.removal import remove_scattered, remove_strings
from forestcycle.schedule.kernel.route import copy_routes, refresh
from forestcycle.schedule.kernel.worth import value_of, value_of_route
from forestcycle.schedule.problem import BoolArray

TIE = 1e-9
STRINGS_SHARE = 0.85
ORDER_SHARE = 0.8
SHUT_SHARE = 0.5


@njit(cache=True, nogil=True)
def _shut_some(ground: Ground, routes: Routes, shut: BoolArray, state: RandomBits) -> None:
    """Keep some free crew-days that cost money free for one step.

    Insertion looks at minutes alone; it would open a dear crew-day at every
    step, and the outcome be turned down with all that was good in it.
    """
    for r in range(len(shut)):
        costs = ground.day_price[r] > 0.0 and routes.length[r] == 0
        shut[r] = costs and uniform(state) < SHUT_SHARE


@njit(cache=True, nogil=True)
def _all_feasible(ground: Ground, routes: Routes, touched: BoolArray) -> bool:
    feasible = True
    for r in range(len(routes.length)):
        if touched[r]:
            feasible &= refresh(ground, routes, r)
    return feasible


@njit(cache=True, nogil=True)
def search(
    ground: Ground,
    current: Routes,
    trial: Routes,
    best: Routes,
    pool: Pool,
    scratch: Scratch,
    state: RandomBits,
    steps: int,
    hot: float,
    cold: float,
    band: float,
) -> float:
    """Run ruin-and-recreate steps while the temperature falls.

    Parameters
    ----------
    ground : Ground
    current, trial, best : Routes
        ``current`` is where the search stands, ``best`` the best ever;
        ``trial`` is scratch and must equal ``current`` on entry.
    pool : Pool
    scratch : Scratch
    state : (1,) uint64
        Of the random generator, not 0.
    steps : int
    hot, cold : float
        First and last temperature, in worth.
    band : float
        Routes of solutions less than this below the best are pooled.

    Returns
    -------
    float
        Value of ``best``.
    """
    top = value_of(ground, best)
    fall = (cold / hot) ** (1.0 / max(steps, 1))
    temperature = hot
    touched, improved = scratch.touched, scratch.improved
    improved[:] = True
    at = value_of(ground, current)
    for _ in range(steps):
        touched[:] = False
        centre = below(state, len(ground.service))
        if uniform(state) < STRINGS_SHARE:
            remove_strings(ground, trial, touched, centre, state)
        else:
            remove_scattered(trial, touched, state)
        if not _all_feasible(ground, trial, touched):
            copy_routes(current, trial, touched)
            continue
        _shut_some(ground, trial, scratch.shut, state)
        if uniform(state) < ORDER_SHARE:
            fill_in_order(ground, trial, scratch, centre, state)
        else:
            fill_by_bargain(ground, trial, scratch, state)
        gain = 0.0
        for r in range(len(touched)):
            if touched[r]:
                gain += value_of_route(ground, trial, r) - value_of_route(ground, current, r)
        if gain > temperature * np.log(max(uniform(state), 1e-300)):
            copy_routes(trial, current, touched)
            at += gain
            improved |= touched
            if at > top - band:
                gather(trial, touched, pool)
            if at > top + TIE:
                copy_routes(trial, best, improved)
                improved[:] = False
                top = at
        else:
            copy_routes(current, trial, touched)
        temperature *= fall
    return top
