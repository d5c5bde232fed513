"""Routes of crew-days: their times, and the changes made to them."""

from numba import njit

from forestcycle.schedule.kernel.arrays import NOWHERE, Ground, Routes
from forestcycle.schedule.problem import BoolArray


@njit(cache=True, nogil=True)
def refresh(ground: Ground, routes: Routes, r: int) -> bool:
    """Recompute the times of a route.

    Parameters
    ----------
    ground : Ground
    routes : Routes
        Changed in place.
    r : int
        Route, by its crew-day.

    Returns
    -------
    bool
        Whether it keeps the crew-day's minutes and its trees' hours.
    """
    stop, count = routes.stop[r], routes.length[r]
    if count == 0:
        routes.minutes[r] = 0.0
        return True
    gap = routes.gap[r]
    gap[0] = ground.out[r, stop[0]]
    for p in range(1, count):
        gap[p] = ground.leg[stop[p - 1], stop[p]]
    gap[count] = ground.back[r, stop[count - 1]]
    if not ground.timed:
        clock = gap[count]
        for p in range(count):
            clock += gap[p] + ground.service[stop[p]]
        routes.minutes[r] = clock
        return bool(clock <= ground.capacity[r])
    return _refresh_times(ground, routes, r)


@njit(cache=True, nogil=True)
def _refresh_times(ground: Ground, routes: Routes, r: int) -> bool:
    """Recompute arrivals and latest starts of route r; say whether it is feasible."""
    stop, arrive, latest = routes.stop[r], routes.arrive[r], routes.latest[r]
    gap, count = routes.gap[r], routes.length[r]
    feasible, clock = True, 0.0
    for p in range(count):
        v = stop[p]
        clock = max(clock + gap[p], ground.earliest[r, v])
        feasible &= clock <= ground.latest[r, v]
        arrive[p] = clock
        clock += ground.service[v]
    clock += gap[count]
    routes.minutes[r] = clock
    last = ground.capacity[r]
    for p in range(count - 1, -1, -1):
        v = stop[p]
        last = min(last - gap[p + 1] - ground.service[v], ground.latest[r, v])
        latest[p] = last
    return bool(feasible and clock <= ground.capacity[r])


@njit(cache=True, nogil=True)
def insert(ground: Ground, routes: Routes, r: int, p: int, v: int) -> None:
    """Put a stop into a route, and bring its times up to date.

    Parameters
    ----------
    ground : Ground
    routes : Routes
        Changed in place.
    r : int
        Route, by its crew-day.
    p : int
        Position that the stop gets.
    v : int
        Stop, in no route so far.
    """
    stop = routes.stop[r]
    for q in range(routes.length[r], p, -1):
        stop[q] = stop[q - 1]
    stop[p] = v
    routes.length[r] += 1
    routes.where[v] = r
    refresh(ground, routes, r)


@njit(cache=True, nogil=True)
def cut(routes: Routes, r: int, first: int, count: int) -> None:
    """Take consecutive stops out of a route; its times are left stale.

    Parameters
    ----------
    routes : Routes
        Changed in place.
    r : int
        Route, by its crew-day.
    first, count : int
        Position of the first of them, and how many.
    """
    stop = routes.stop[r]
    for p in range(first, first + count):
        routes.where[stop[p]] = NOWHERE
    for p in range(first, routes.length[r] - count):
        stop[p] = stop[p + count]
    routes.length[r] -= count


@njit(cache=True, nogil=True)
def position_of(routes: Routes, r: int, v: int) -> int:
    """Find a stop in a route.

    Parameters
    ----------
    routes : Routes
    r : int
        Route, by its crew-day.
    v : int
        Stop.

    Returns
    -------
    int
        Position, -1 where the route has no such stop.
    """
    for p in range(routes.length[r]):
        if routes.stop[r, p] == v:
            return p
    return NOWHERE


@njit(cache=True, nogil=True)
def copy_routes(source: Routes, target: Routes, which: BoolArray) -> None:
    """Copy some routes over those of the same crew-days.

    Parameters
    ----------
    source : Routes
    target : Routes
        Changed in place.
    which : (k,) bool
        Crew-days.
    """
    for r in range(len(source.length)):
        if which[r]:
            for p in range(target.length[r]):
                target.where[target.stop[r, p]] = NOWHERE
    for r in range(len(source.length)):
        if not which[r]:
            continue
        count = source.length[r]
        target.length[r] = count
        target.minutes[r] = source.minutes[r]
        for p in range(count):
            v = source.stop[r, p]
            target.stop[r, p] = v
            target.where[v] = r
            target.gap[r, p] = source.gap[r, p]
            target.arrive[r, p] = source.arrive[r, p]
            target.latest[r, p] = source.latest[r, p]
        target.gap[r, count] = source.gap[r, count]
