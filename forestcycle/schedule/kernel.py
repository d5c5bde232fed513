"""Ruin and recreate on a handful of crew-days: the compiled inner loop.

Every step takes some stops out of the current routes (strings of consecutive
stops around a random tree, as in slack induction by string removals, or
scattered ones), puts trees back in at their cheapest places, and keeps the
outcome by the rule of simulated annealing. Routes that come by on the way are
gathered in a pool, from which the city-wide choice is made later.

The functions work on plain arrays, release the interpreter's lock, and draw
random numbers from their own generator, so that one seed gives one outcome on
any thread. Times are minutes since the crew left the depot.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray

RandomBits = NDArray[np.uint64]

NOWHERE = -1
NEVER = np.inf
BLINK = 0.01
TIE = 1e-9
STRINGS_SHARE = 0.85
ORDER_SHARE = 0.8
MEAN_REMOVED = 10
LONGEST_STRING = 12
SHUT_SHARE = 0.5


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
def _uniform(state: RandomBits) -> float:
    return np.float64(_next(state) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True, nogil=True, inline="always")
def _below(state: RandomBits, limit: int) -> int:
    """Draw a whole number from 0 to limit - 1."""
    return int(_uniform(state) * limit)


@njit(cache=True, nogil=True)
def refresh(ground: Ground, routes: Routes, r: int) -> bool:
    """Recompute the times of route r; say whether it is feasible."""
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
def _cheapest(
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
    """Extra travel, at most ``most``, and position of the cheapest insertion of v into route r.

    Takes arrays, not the tuples that hold them: reading a field of a tuple
    counts a reference, which would cost more than all else in this loop.
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
        if extra <= best and _uniform(state) >= BLINK:
            best, place = extra, p
        arriving = into[v, w]
    extra = arriving + back[r, v] - gap[r, count]
    if extra <= best and _uniform(state) >= BLINK:
        best, place = extra, count
    return (best, place) if place != NOWHERE else (NEVER, NOWHERE)


@njit(cache=True, nogil=True)
def _cheapest_in_time(
    ground: Ground, routes: Routes, r: int, v: int, state: RandomBits
) -> tuple[float, int]:
    """Extra minutes, service included, and position where trees have hours to keep."""
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
        if fits and extra < best and _uniform(state) >= BLINK:
            best, place = extra, p
    return best, place


@njit(cache=True, nogil=True)
def _insert(ground: Ground, routes: Routes, r: int, p: int, v: int) -> None:
    stop = routes.stop[r]
    for q in range(routes.length[r], p, -1):
        stop[q] = stop[q - 1]
    stop[p] = v
    routes.length[r] += 1
    routes.where[v] = r
    refresh(ground, routes, r)


@njit(cache=True, nogil=True)
def _cut(routes: Routes, r: int, first: int, count: int) -> None:
    """Take ``count`` consecutive stops out of route r; times are left stale."""
    stop = routes.stop[r]
    for p in range(first, first + count):
        routes.where[stop[p]] = NOWHERE
    for p in range(first, routes.length[r] - count):
        stop[p] = stop[p + count]
    routes.length[r] -= count


@njit(cache=True, nogil=True)
def _position_of(routes: Routes, r: int, v: int) -> int:
    for p in range(routes.length[r]):
        if routes.stop[r, p] == v:
            return p
    return NOWHERE


@njit(cache=True, nogil=True)
def _remove_strings(
    ground: Ground, routes: Routes, touched: BoolArray, centre: int, state: RandomBits
) -> None:
    """Take a string of stops out of each of several routes near one tree."""
    m = len(ground.service)
    served, used = 0, 0
    for r in range(len(routes.length)):
        served += routes.length[r]
        used += routes.length[r] > 0
    if served == 0:
        return
    longest = min(float(LONGEST_STRING), max(1.0, served / used))
    mean_strings = 4.0 * MEAN_REMOVED / (1.0 + longest) - 1.0
    strings = np.int64(_uniform(state) * mean_strings + 1.0)
    for rank in range(m):
        v = ground.near[centre, rank]
        r = routes.where[v]
        if r == NOWHERE or touched[r]:
            continue
        most = min(longest, float(routes.length[r]))
        count = min(int(_uniform(state) * most + 1.0), int(routes.length[r]))
        p = _position_of(routes, r, v)
        low = max(0, p - count + 1)
        high = min(p, int(routes.length[r]) - count)
        _cut(routes, r, low + _below(state, high - low + 1), count)
        touched[r] = True
        strings -= 1
        if strings == 0:
            return


@njit(cache=True, nogil=True)
def _remove_scattered(routes: Routes, touched: BoolArray, state: RandomBits) -> None:
    """Take out single stops, each with the same chance."""
    share = 0.1 + 0.3 * _uniform(state)
    for r in range(len(routes.length)):
        p = 0
        while p < routes.length[r]:
            if _uniform(state) < share:
                _cut(routes, r, p, 1)
                touched[r] = True
            else:
                p += 1


@njit(cache=True, nogil=True)
def _shut_some(ground: Ground, routes: Routes, shut: BoolArray, state: RandomBits) -> None:
    """Keep some free crew-days that cost money free for one step.

    Insertion looks at minutes alone; it would open a dear crew-day at every
    step, and the outcome be turned down with all that was good in it.
    """
    for r in range(len(shut)):
        costs = ground.day_price[r] > 0.0 and routes.length[r] == 0
        shut[r] = costs and _uniform(state) < SHUT_SHARE


@njit(cache=True, nogil=True)
def _fill_in_order(
    ground: Ground, routes: Routes, scratch: Scratch, centre: int, state: RandomBits
) -> None:
    """Insert trees one by one, each where cheapest, in a fixed or random order or from a centre."""
    kinds, m = ground.orders.shape
    kind = _below(state, kinds + 5)
    active = scratch.active
    for i in range(m):
        active[i] = ground.orders[kind, i] if kind < kinds else ground.near[centre, i]
    if kind == kinds:
        for i in range(m - 1, 0, -1):
            j = _below(state, i + 1)
            active[i], active[j] = active[j], active[i]
    if ground.timed:
        _place_in_time(ground, routes, scratch, state)
    else:
        _place(ground, routes, scratch, state)


@njit(cache=True, nogil=True)
def _place(ground: Ground, routes: Routes, scratch: Scratch, state: RandomBits) -> None:
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
            extra, p = _cheapest(leg, into, out, back, stop, gap, length, r, v, most, state)
            if extra - pull[r, v] < best:
                best, route, place = extra - pull[r, v], r, p
        if route != NOWHERE:
            _insert(ground, routes, route, place, v)
            scratch.touched[route] = True


@njit(cache=True, nogil=True)
def _place_in_time(ground: Ground, routes: Routes, scratch: Scratch, state: RandomBits) -> None:
    """Do the same where trees have hours to keep."""
    for i in range(len(scratch.active)):
        v = scratch.active[i]
        if routes.where[v] != NOWHERE:
            continue
        best, route, place = NEVER, NOWHERE, NOWHERE
        for r in range(len(routes.length)):
            if scratch.shut[r]:
                continue
            extra, p = _cheapest_in_time(ground, routes, r, v, state)
            if extra - ground.pull[r, v] < best:
                best, route, place = extra - ground.pull[r, v], r, p
        if route != NOWHERE:
            _insert(ground, routes, route, place, v)
            scratch.touched[route] = True


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
            cost[r, v], position[r, v] = _cheapest_in_time(ground, routes, r, v, state)
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
            extra, p = _cheapest(leg, into, out, back, stop, gap, length, r, v, most, state)
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
                least, place = _cheapest(leg, into, out, back, stop, gap, length, r, v, most, state)
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
def _fill_by_bargain(ground: Ground, routes: Routes, scratch: Scratch, state: RandomBits) -> None:
    """Insert, again and again, the tree of most worth per extra minute."""
    rung = _below(state, ground.appeal.shape[0])
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
        _insert(ground, routes, route, place, tree)
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


@njit(cache=True, nogil=True)
def value_of_route(ground: Ground, routes: Routes, r: int) -> float:
    """Worth of a route, less its day's price and a small price per minute to break ties."""
    count = routes.length[r]
    if count == 0:
        return 0.0
    total = -ground.minute_price * routes.minutes[r] - ground.day_price[r]
    for p in range(count):
        v = routes.stop[r, p]
        total += ground.worth[v] + ground.bonus[r, v]
    return float(total)


@njit(cache=True, nogil=True)
def value_of(ground: Ground, routes: Routes) -> float:
    """Value of all routes."""
    total = 0.0
    for r in range(len(routes.length)):
        total += value_of_route(ground, routes, r)
    return float(total)


@njit(cache=True, nogil=True)
def copy_routes(source: Routes, target: Routes, which: BoolArray) -> None:
    """Copy some routes over those of the same crew-days."""
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
    """Put the changed routes whose set of trees is new into the pool."""
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
        centre = _below(state, len(ground.service))
        if _uniform(state) < STRINGS_SHARE:
            _remove_strings(ground, trial, touched, centre, state)
        else:
            _remove_scattered(trial, touched, state)
        if not _all_feasible(ground, trial, touched):
            copy_routes(current, trial, touched)
            continue
        _shut_some(ground, trial, scratch.shut, state)
        if _uniform(state) < ORDER_SHARE:
            _fill_in_order(ground, trial, scratch, centre, state)
        else:
            _fill_by_bargain(ground, trial, scratch, state)
        gain = 0.0
        for r in range(len(touched)):
            if touched[r]:
                gain += value_of_route(ground, trial, r) - value_of_route(ground, current, r)
        if gain > temperature * np.log(max(_uniform(state), 1e-300)):
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
