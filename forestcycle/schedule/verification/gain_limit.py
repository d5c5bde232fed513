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
def _hope(day: Day, table: Table, step: float, tree: int, minute: float, origin: int) -> float:
    """Most that can follow a tree left at a minute, but for going back to a place."""
    k = int(np.floor(minute / step - TINY))
    k = max(k, 0)
    return table.rival[k, tree] if table.lead[k, tree] == origin else table.most[k, tree]


@njit(cache=True)
def _search(day: Day, step: float, table: Table, near: Truths, claim: float) -> bool:
    m, places = len(day.gain), day.place.max() + 1
    # Of each partial route: last tree, place before, minute, gain; places it may not go to.
    tree, origin, minute, gain = [0], [0], [0.0], [0.0]
    shut = [np.zeros(places, np.bool_)]
    queue = [(0.0, 0)]
    heapq.heappop(queue)
    for j in range(m):
        minute_j = day.out[j] + day.work[j]
        tree.append(j)
        origin.append(-1)
        minute.append(minute_j)
        gain.append(day.gain[j])
        closed = np.zeros(places, np.bool_)
        closed[day.place[j]] = True
        shut.append(closed)
        heapq.heappush(queue, (minute_j, len(tree) - 1))
    done_at = [[0] for _ in range(m)]
    while len(queue) > 0:
        now, route = heapq.heappop(queue)
        i, so_far = tree[route], gain[route]
        if so_far > claim or len(tree) > MOST_PARTIAL_ROUTES:
            return True
        if so_far + _hope(day, table, step, i, now, origin[route]) <= claim:
            continue
        needless = False
        for other in done_at[i][1:]:
            if gain[other] >= so_far and minute[other] <= now:
                if not np.any(shut[other] & ~shut[route]):
                    needless = True
                    break
        if needless:
            continue
        done_at[i].append(route)
        for j in range(m):
            same = day.place[j] == day.place[i]
            if (same and j <= i) or (not same and shut[route][day.place[j]]):
                continue
            then = now + day.between[i, j] + day.work[j]
            came = origin[route] if same else day.place[i]
            if then + day.home[j] > day.minutes:
                continue
            if so_far + day.gain[j] + _hope(day, table, step, j, then, came) <= claim:
                continue
            tree.append(j)
            origin.append(came)
            minute.append(then)
            gain.append(so_far + day.gain[j])
            closed = shut[route] & near[j]
            closed[day.place[j]] = True
            shut.append(closed)
            heapq.heappush(queue, (then, len(tree) - 1))
    return False
