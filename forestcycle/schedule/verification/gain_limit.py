"""Whether any route of a crew-day could gain more than is claimed.

Works on places, trees and minutes alone. First a limit on what can still be
gained after each tree is tabled by minutes left, as if a route might come back
to all places but the last two. Then partial routes are extended, earliest
first; one is given up where the table says that it cannot reach the claim, or
where another at the same tree is no later, no poorer and no less free to go
on. A route may come back to a place far away that it has been to: that adds
routes, and so can only make the check stricter.
"""

import heapq
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Truths = NDArray[np.bool_]

STEPS = 400
BLOCKED_PLACES = 11
MOST_PARTIAL_ROUTES = 3_000_000
TINY = 1e-9


class Day(NamedTuple):
    """One crew-day and m trees sorted by place; minutes with parking, gains above 0."""

    place: Whole
    between: Floats
    out: Floats
    home: Floats
    work: Floats
    gain: Floats
    minutes: float


def may_exceed(day: Day, claim: float) -> bool:
    """Whether some route may gain more than is claimed.

    Parameters
    ----------
    day : Day
        Its trees each fit into the day alone.
    claim : float

    Returns
    -------
    bool
        False is a proof. True is none: the search may have grown too long.
    """
    if not len(day.gain):
        return False
    step = min(day.minutes / STEPS, float(day.work.min()) / 2)
    table = _table(day, step, int(day.minutes / step) + 1)
    return bool(_search(day, step, table, _near(day), claim))


def _near(day: Day) -> Truths:
    """Whether a route at a tree still remembers having been at a place."""
    first = np.unique(day.place, return_index=True)[1]
    there_and_back = day.between[np.ix_(first, first)] + day.between[np.ix_(first, first)].T
    np.fill_diagonal(there_and_back, -1.0)
    rank = there_and_back.argsort(axis=1, kind="stable").argsort(axis=1, kind="stable")
    near: Truths = (rank < BLOCKED_PLACES)[day.place]
    return near


class Table(NamedTuple):
    """Most that can follow each tree at each step, and by which place; then the best other."""

    most: Floats
    lead: Whole
    rival: Floats
    rival_lead: Whole


@njit(cache=True)
def _table(day: Day, step: float, steps: int) -> Table:
    m, home = len(day.gain), day.place.max() + 1
    shape = (steps, m)
    table = Table(np.zeros(shape), np.full(shape, home), np.zeros(shape), np.full(shape, home))
    by_place = np.zeros(home + 1)
    for k in range(steps - 1, -1, -1):
        for i in range(m):
            by_place[:] = -np.inf
            by_place[home] = 0.0
            for j in range(m):
                same = day.place[i] == day.place[j]
                latest = day.minutes - day.home[j] - day.work[j] - day.between[i, j]
                if k * step > latest + TINY or (same and j <= i):
                    continue
                after = int(np.floor(k + (day.between[i, j] + day.work[j]) / step - TINY))
                lead, rival = table.lead[after, j], table.rival_lead[after, j]
                best, next_best = table.most[after, j], table.rival[after, j]
                if same:
                    by_place[lead] = max(by_place[lead], day.gain[j] + best)
                    by_place[rival] = max(by_place[rival], day.gain[j] + next_best)
                else:
                    rest = next_best if lead == day.place[i] else best
                    spot = day.place[j]
                    by_place[spot] = max(by_place[spot], day.gain[j] + rest)
            top = np.argmax(by_place)
            table.most[k, i], table.lead[k, i] = by_place[top], top
            by_place[top] = -np.inf
            other = np.argmax(by_place)
            table.rival[k, i], table.rival_lead[k, i] = by_place[other], other
    return table


@njit(cache=True)
def _hope(table: Table, step: float, tree: int, minute: float, origin: int) -> float:
    """Most that can follow a tree left at a minute, but for going back to a place."""
    k = max(0, int(np.floor(minute / step - TINY)))
    back = table.lead[k, tree] == origin
    return float(table.rival[k, tree] if back else table.most[k, tree])


@njit(cache=True)
def _needless(
    now: float, gain: float, shut: Truths, others: list[tuple[float, float, Truths]]
) -> bool:
    """Whether another at the same tree is no later, no poorer and no less free to go on."""
    for minute, earned, closed in others:
        if earned >= gain and minute <= now and not np.any(closed & ~shut):
            return True
    return False


@njit(cache=True)
def _search(day: Day, step: float, table: Table, near: Truths, claim: float) -> bool:
    m, places = len(day.gain), day.place.max() + 1
    # Of each partial route: last tree, place before, gain; and where it may not go.
    routes = [(0, -1, 0.0)]
    shut = [np.zeros(places, np.bool_)]
    queue = [(0.0, 0)]
    heapq.heappop(queue)
    for j in range(m):
        closed = np.zeros(places, np.bool_)
        closed[day.place[j]] = True
        routes.append((j, -1, day.gain[j]))
        shut.append(closed)
        heapq.heappush(queue, (day.out[j] + day.work[j], len(routes) - 1))
    extended = [[(np.inf, 0.0, shut[0])] for _ in range(m)]
    while len(queue) > 0:
        now, route = heapq.heappop(queue)
        i, origin, gain = routes[route]
        if gain > claim or len(routes) > MOST_PARTIAL_ROUTES:
            return True
        late = gain + _hope(table, step, i, now, origin) <= claim
        if late or _needless(now, gain, shut[route], extended[i]):
            continue
        extended[i].append((now, gain, shut[route]))
        for j in _next_trees(day, i, now, shut[route]):
            came = origin if day.place[j] == day.place[i] else day.place[i]
            then = now + day.between[i, j] + day.work[j]
            if gain + day.gain[j] + _hope(table, step, j, then, came) > claim:
                closed = shut[route] & near[j]
                closed[day.place[j]] = True
                routes.append((j, came, gain + day.gain[j]))
                shut.append(closed)
                heapq.heappush(queue, (then, len(routes) - 1))
    return False


@njit(cache=True)
def _next_trees(day: Day, i: int, now: float, shut: Truths) -> Whole:
    """Trees that can come next: at the same place later ones only, elsewhere open places."""
    rank = np.arange(len(day.gain))
    same = day.place == day.place[i]
    allowed = np.where(same, rank > i, ~shut[day.place])
    in_time = now + day.between[i] + day.work + day.home <= day.minutes
    chosen: Whole = rank[allowed & in_time]
    return chosen
