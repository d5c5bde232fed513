"""Putting trees back one by one in a given order, each where it is cheapest."""

from numba import njit

from forestcycle.schedule.kernel.arrays import NEVER, NOWHERE, Ground, RandomBits, Routes, Scratch
from forestcycle.schedule.kernel.chance import below
from forestcycle.schedule.kernel.insertion import cheapest_insertion, cheapest_insertion_in_time
from forestcycle.schedule.kernel.route import insert


@njit(cache=True, nogil=True)
def fill_in_order(
    ground: Ground, routes: Routes, scratch: Scratch, centre: int, state: RandomBits
) -> None:
    """Insert trees one by one, each where cheapest, in a fixed or random order or from a centre.

    Parameters
    ----------
    ground : Ground
    routes : Routes
        Changed in place.
    scratch : Scratch
        ``shut`` is read, ``touched`` added to; the rest is room to work in.
    centre : int
        The tree from which an order by distance begins.
    state : (1,) uint64
        Of the random generator.
    """
    kinds, m = ground.orders.shape
    kind = below(state, kinds + 5)
    active = scratch.active
    for i in range(m):
        active[i] = ground.orders[kind, i] if kind < kinds else ground.near[centre, i]
    if kind == kinds:
        for i in range(m - 1, 0, -1):
            j = below(state, i + 1)
            active[i], active[j] = active[j], active[i]
    if ground.timed:
        _place_each_in_time(ground, routes, scratch, state)
    else:
        _place_each(ground, routes, scratch, state)


@njit(cache=True, nogil=True)
def _place_each(ground: Ground, routes: Routes, scratch: Scratch, state: RandomBits) -> None:
    """Insert the trees listed in ``scratch.active``, each where it is cheapest."""
    leg, into, out, back = ground.leg, ground.into, ground.out, ground.back
    stop, gap, length = routes.stop, routes.gap, routes.length
    service, capacity, latest = ground.service, ground.capacity, ground.latest
    pull = ground.pull
    minutes, where, active, shut = routes.minutes, routes.where, scratch.active, scratch.shut
    for i in range(len(active)):
        v = active[i]
        if where[v] != NOWHERE:
            continue
        best, route, place = NEVER, NOWHERE, NOWHERE
        for r in range(len(length)):
            most = min(best + pull[r, v], capacity[r] - minutes[r] - service[v])
            if most < 0.0 or latest[r, v] < 0.0 or shut[r]:
                continue
            extra, p = cheapest_insertion(
                leg, into, out, back, stop, gap, length, r, v, most, state
            )
            if extra - pull[r, v] < best:
                best, route, place = extra - pull[r, v], r, p
        if route != NOWHERE:
            insert(ground, routes, route, place, v)
            scratch.touched[route] = True


@njit(cache=True, nogil=True)
def _place_each_in_time(
    ground: Ground, routes: Routes, scratch: Scratch, state: RandomBits
) -> None:
    """Do the same where trees have hours to keep."""
    for i in range(len(scratch.active)):
        v = scratch.active[i]
        if routes.where[v] != NOWHERE:
            continue
        best, route, place = NEVER, NOWHERE, NOWHERE
        for r in range(len(routes.length)):
            if scratch.shut[r]:
                continue
            extra, p = cheapest_insertion_in_time(ground, routes, r, v, state)
            if extra - ground.pull[r, v] < best:
                best, route, place = extra - ground.pull[r, v], r, p
        if route != NOWHERE:
            insert(ground, routes, route, place, v)
            scratch.touched[route] = True
