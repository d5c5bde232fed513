"""Putting trees back by bargains: the most worth per extra minute comes first."""

from numba import njit

from forestcycle.schedule.kernel.arrays import NEVER, NOWHERE, Ground, RandomBits, Routes, Scratch
from forestcycle.schedule.kernel.chance import below
from forestcycle.schedule.kernel.insertion import cheapest_insertion, cheapest_insertion_in_time
from forestcycle.schedule.kernel.route import insert


@njit(cache=True, nogil=True)
def _price_insertions(
    ground: Ground, routes: Routes, scratch: Scratch, count: int, r: int, state: RandomBits
) -> None:
    """Note the cheapest insertion into route r of each active tree."""
    active, cost, position = scratch.active, scratch.cost, scratch.position
    if scratch.shut[r]:
        for i in range(count):
            cost[r, active[i]], position[r, active[i]] = NEVER, NOWHERE
        return
    if ground.timed:
        for i in range(count):
            v = active[i]
            cost[r, v], position[r, v] = cheapest_insertion_in_time(ground, routes, r, v, state)
        return
    leg, into, out, back = ground.leg, ground.into, ground.out, ground.back
    stop, gap, length = routes.stop, routes.gap, routes.length
    service, latest = ground.service, ground.latest
    slack = ground.capacity[r] - routes.minutes[r]
    for i in range(count):
        v = active[i]
        cost[r, v], position[r, v] = NEVER, NOWHERE
        most = slack - service[v]
        if most >= 0.0 and latest[r, v] >= 0.0:
            extra, p = cheapest_insertion(
                leg, into, out, back, stop, gap, length, r, v, most, state
            )
            cost[r, v], position[r, v] = extra + service[v], p


@njit(cache=True, nogil=True)
def _reprice_insertions(
    ground: Ground,
    routes: Routes,
    scratch: Scratch,
    count: int,
    r: int,
    p: int,
    state: RandomBits,
) -> None:
    """Bring noted insertions up to date after a tree went to position p of route r.

    Without hours to keep, an insertion elsewhere in the route costs what it
    did, and one that no longer fits never will again: by the triangle
    inequality, a neighbour takes at least as much time as it saves.
    """
    leg, into, out, back = ground.leg, ground.into, ground.out, ground.back
    stop, gap, length = routes.stop, routes.gap, routes.length
    active, cost, position = scratch.active, scratch.cost, scratch.position
    service = ground.service
    slack = ground.capacity[r] - routes.minutes[r]
    last = length[r] - 1
    u = stop[r, p]
    before = stop[r, p - 1] if p > 0 else NOWHERE
    after = stop[r, p + 1] if p < last else NOWHERE
    for i in range(count):
        v = active[i]
        at = position[r, v]
        if at == NOWHERE:
            continue
        least, place = cost[r, v] - service[v], at + (at > p)
        if at == p:
            most = slack - service[v]
            least, place = NEVER, NOWHERE
            if most >= 0.0:
                least, place = cheapest_insertion(
                    leg, into, out, back, stop, gap, length, r, v, most, state
                )
        else:
            arriving = out[r, v] if before == NOWHERE else into[v, before]
            extra = arriving + leg[v, u] - gap[r, p]
            if extra < least:
                least, place = extra, p
            leaving = back[r, v] if after == NOWHERE else leg[v, after]
            extra = into[v, u] + leaving - gap[r, p + 1]
            if extra < least:
                least, place = extra, p + 1
        if least + service[v] > slack:
            least, place = NEVER, NOWHERE
        cost[r, v], position[r, v] = least + service[v], place


@njit(cache=True, nogil=True)
def _best_bargain(ground: Ground, scratch: Scratch, count: int, rung: int) -> tuple[int, int, int]:
    """Tree and route of most appeal per extra minute; drops hopeless trees."""
    best, tree, route = 0.0, NOWHERE, NOWHERE
    active, cost, appeal = scratch.active, scratch.cost, ground.appeal
    i = 0
    while i < count:
        v = active[i]
        cheapest, at = NEVER, NOWHERE
        for r in range(len(cost)):
            if cost[r, v] < cheapest:
                cheapest, at = cost[r, v], r
        if at == NOWHERE:
            count -= 1
            active[i] = active[count]
            continue
        bargain = appeal[rung, v] / max(cheapest, 1e-6)
        if bargain > best:
            best, tree, route = bargain, v, at
        i += 1
    return tree, route, count


@njit(cache=True, nogil=True)
def fill_by_bargain(ground: Ground, routes: Routes, scratch: Scratch, state: RandomBits) -> None:
    """Insert, again and again, the tree of most worth per extra minute.

    Parameters
    ----------
    ground : Ground
    routes : Routes
        Changed in place.
    scratch : Scratch
        ``shut`` is read, ``touched`` added to; the rest is room to work in.
    state : (1,) uint64
        Of the random generator.
    """
    rung = below(state, ground.appeal.shape[0])
    count = 0
    for v in range(len(ground.service)):
        if routes.where[v] == NOWHERE and ground.worth[v] > 0.0:
            scratch.active[count] = v
            count += 1
    for r in range(len(routes.length)):
        _price_insertions(ground, routes, scratch, count, r, state)
    while count > 0:
        tree, route, count = _best_bargain(ground, scratch, count, rung)
        if tree == NOWHERE:
            return
        place = scratch.position[route, tree]
        insert(ground, routes, route, place, tree)
        scratch.touched[route] = True
        for i in range(count):
            if scratch.active[i] == tree:
                count -= 1
                scratch.active[i] = scratch.active[count]
                break
        if ground.timed:
            _price_insertions(ground, routes, scratch, count, route, state)
        else:
            _reprice_insertions(ground, routes, scratch, count, route, place, state)
