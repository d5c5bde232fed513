"""What a crew-day surely pays for a tree, whatever its route.

The order of the stops is what makes packing hard. A bound forgets it, and
keeps of a route only what every route pays. Take a crew-day of capacity ``T``
that visits the trees ``S`` at the places ``Q``. It pays

* the service minutes ``s_i`` of each tree in ``S``;
* parking, ``p`` minutes, at least once for each place in ``Q``;
* travel ``L``, of which two lower limits are used.

**Radial row.** Let ``r_q`` be the minutes from the depot to place ``q`` and
back. By the triangle inequality ``L >= R``, the largest ``r_q`` in ``Q``. So
``sum(s_i) + p |Q| <= T - R``, and since ``T / (T - r_q) <= T / (T - R)``::

    sum(s_i * T / (T - r_q)) + sum(p * T / (T - r_q)) <= T
     i in S                     q in Q

**Stop row.** Every arrival at a place comes along one leg and leaves along
another. Give each leg's minutes in halves to its two ends: a place is given at
least ``e_q``, half of its shortest way in plus half of its shortest way out
over all candidate places and depots, and the depot likewise ``h``. So::

    sum(s_i) + sum(p + e_q) <= T - h
     i in S     q in Q

Where no tree has hours of the day to keep, sorting a day's stops so that each
place is visited once lengthens no route (triangle inequality). Then the way in
and the way out of a place lead to two different neighbours, or both to the
depot, and ``e_q`` may be taken over such pairs only.

**Sharing a place.** Both rows charge a place once, however many of its trees
are visited, through ``z_q >= x_i`` for each tree ``i`` at ``q``. With prices
``a, b >= 0`` on the two rows of a group of crew-days, a tree is worth
``v_i = worth_i - s_i (a T / (T - r_q) + b)`` there, and the place costs
``P_q = a p T / (T - r_q) + b (p + e_q)``. For any ``u`` with
``sum over i at q of max(0, v_i - u_i) <= P_q`` in every group, and ``u >= 0``
for trees that need not be visited, no choice of trees, places and groups is
worth more than ``sum(u)`` plus the price of all capacity: each tree goes to
one crew-day at most, so what exceeds its ``u_i`` there must pay for the place.
Going through a place's trees one by one and giving each the lowest ``u_i``
that the rest of ``P_q`` allows yields such a ``u``; where a single group
serves a place it is the best one.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forestcycle.schedule.group import Groups
from forestcycle.schedule.problem import MINUTES_PER_DAY, BoolArray, FloatArray, IntArray, Problem

MINUTES_TOLERANCE = 1e-6
MOST_PLACES_FOR_STOPS = 3_000


class Relaxation(NamedTuple):
    """Trees sorted by place, and what each place and group adds.

    Shapes use n trees, q places, d depots, g groups, w windows.

    Attributes
    ----------
    tree : (n,) int64
        Position in the problem's arrays; all tree arrays are in this order.
    first : (q + 1,) int64
        Place k has the trees ``first[k]`` to ``first[k + 1] - 1``.
    worth, service, cost, hours_from, hours_until : (n,) float64
    fund, ward, window : (n,) int64
    skill : (n,) uint32
    mandatory : (n,) bool
    out, back : (d, q) float64
        Minutes from and to each depot.
    parking : float
    stop_travel : (q,) float64
        Least travel that a visit to the place adds to the stop row.
    depot : (g,) int64
        Row of ``out``.
    crew_skill : (g,) uint32
    capacity, start, end, home_travel : (g,) float64
        Minutes; ``home_travel`` is the depot's share of the stop row.
    open_to : (w, g) bool
    """

    tree: IntArray
    first: IntArray
    worth: FloatArray
    service: FloatArray
    cost: FloatArray
    hours_from: FloatArray
    hours_until: FloatArray
    fund: IntArray
    ward: IntArray
    window: IntArray
    skill: NDArray[np.uint32]
    mandatory: BoolArray
    out: FloatArray
    back: FloatArray
    parking: float
    stop_travel: FloatArray
    depot: IntArray
    crew_skill: NDArray[np.uint32]
    capacity: FloatArray
    start: FloatArray
    end: FloatArray
    home_travel: FloatArray
    open_to: BoolArray


def relax(problem: Problem, groups: Groups) -> Relaxation:
    """Forget the order of stops.

    Parameters
    ----------
    problem : Problem
    groups : Groups
        Of the problem's crew-days.

    Returns
    -------
    Relaxation
        ``stop_travel`` is 0 where there are too many places to compare them
        all; there are then neighbours everywhere, and it would be close to 0.
    """
    order = np.argsort(problem.place, kind="stable")
    places, first = np.unique(problem.place[order], return_index=True)
    depots, depot = np.unique(groups.depot, return_inverse=True)
    out = problem.travel.minutes(depots, places)
    back = problem.travel.minutes(places, depots).T
    stop_travel, home_travel = np.zeros(len(places)), np.zeros(len(depots))
    if len(places) <= MOST_PLACES_FOR_STOPS:
        between = problem.travel.minutes(places, places)
        stop_travel = _stop_travel(between, out, back, once_a_day=_hours_are_free(problem))
        home_travel = _finite((out.min(axis=1) + back.min(axis=1)) / 2)
    capacity = groups.capacity_minutes + MINUTES_TOLERANCE
    return Relaxation(
        tree=order,
        first=np.append(first, len(order)).astype(np.int64),
        worth=problem.worth[order],
        service=problem.service_minutes[order],
        cost=problem.cost_cents[order].astype(np.float64),
        hours_from=problem.hours_from[order],
        hours_until=problem.hours_until[order],
        fund=problem.fund[order],
        ward=problem.ward[order],
        window=problem.window[order],
        skill=problem.skill[order],
        mandatory=problem.mandatory[order],
        out=np.ascontiguousarray(out, dtype=np.float64),
        back=np.ascontiguousarray(back, dtype=np.float64),
        parking=float(problem.parking_minutes),
        stop_travel=stop_travel,
        depot=depot.astype(np.int64),
        crew_skill=groups.skill,
        capacity=capacity,
        start=groups.start_minute,
        end=groups.start_minute + capacity + groups.break_minutes,
        home_travel=home_travel[depot],
        open_to=np.ascontiguousarray(groups.open_to),
    )


def _hours_are_free(problem: Problem) -> bool:
    return bool((problem.hours_from <= 0).all() and (problem.hours_until >= MINUTES_PER_DAY).all())


def _stop_travel(
    between: FloatArray, out: FloatArray, back: FloatArray, *, once_a_day: bool
) -> FloatArray:
    """Half of the shortest way in plus the shortest way out of each place."""
    from_depot, to_depot = out.min(axis=0), back.min(axis=0)
    way_in = between.T + np.where(np.eye(len(between), dtype=np.bool_), np.inf, 0.0)
    way_out = between + np.where(np.eye(len(between), dtype=np.bool_), np.inf, 0.0)
    if not once_a_day or len(between) < 2:
        nearest_in = np.minimum(way_in.min(axis=1), from_depot)
        nearest_out = np.minimum(way_out.min(axis=1), to_depot)
        return _finite((nearest_in + nearest_out) / 2)
    (in_1, in_2, in_who), (out_1, out_2, out_who) = _two_least(way_in), _two_least(way_out)
    apart = np.minimum(in_1 + out_2, in_2 + out_1)
    over_places = np.where(in_who != out_who, in_1 + out_1, apart)
    over_depot = from_depot + np.minimum(to_depot, out_1)
    return _finite(np.minimum.reduce([over_places, over_depot, in_1 + to_depot]) / 2)


def _two_least(ways: FloatArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """Least and second least of each row, and where the least stands."""
    if ways.shape[1] < 3:
        who = ways.argmin(axis=1)
        return ways.min(axis=1), np.full(len(ways), np.inf), who
    pair = np.argpartition(ways, 1, axis=1)[:, :2]
    least = np.take_along_axis(ways, pair, axis=1)
    swap = least[:, 0] > least[:, 1]
    who = np.where(swap, pair[:, 1], pair[:, 0])
    return least.min(axis=1), least.max(axis=1), who.astype(np.int64)


def _finite(minutes: FloatArray) -> FloatArray:
    """0 for places without a way, which are unreachable anyway."""
    return np.where(np.isfinite(minutes), minutes, 0.0)


@njit(cache=True)
def fits(trees: Relaxation, i: int, q: int, g: int) -> bool:
    """Whether a group could visit a tree if it did nothing else that day.

    Parameters
    ----------
    trees : Relaxation
    i, q, g : int
        Tree, its place, and group.

    Returns
    -------
    bool
    """
    skilled = (trees.skill[i] & ~trees.crew_skill[g]) == 0
    if not (skilled and trees.open_to[trees.window[i], g]):
        return False
    out, back = trees.out[trees.depot[g], q], trees.back[trees.depot[g], q]
    service = trees.service[i]
    if not out + trees.parking + service + back <= trees.capacity[g]:
        return False
    earliest = trees.start[g] + out + trees.parking
    return bool(
        earliest + service <= trees.hours_until[i] + 1e-6
        and trees.hours_from[i] + service + back <= trees.end[g] + 1e-6
    )


@njit(cache=True)
def stretch(trees: Relaxation, q: int, g: int) -> float:
    """``T / (T - r)``: what a minute at a place takes with its share of the way there.

    Parameters
    ----------
    trees : Relaxation
    q, g : int
        Place and group.

    Returns
    -------
    float
        1 where the place is out of reach.
    """
    round_trip = trees.out[trees.depot[g], q] + trees.back[trees.depot[g], q]
    if not round_trip < trees.capacity[g]:
        return 1.0  # out of reach: no tree fits, and nothing is divided by 0
    return float(trees.capacity[g] / (trees.capacity[g] - round_trip))


@njit(cache=True)
def price_trees(
    trees: Relaxation, net: FloatArray, radial: FloatArray, stop: FloatArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Price every tree against every group.

    Parameters
    ----------
    trees : Relaxation
    net : (n,) float64
        Worth less the price of money, plus what wards add.
    radial, stop : (g,) float64
        Prices per minute on the two rows.

    Returns
    -------
    surplus : (n,) float64
        The ``u`` of the module's docstring; 0 for mandatory trees that no
        group fits.
    group : (n,) int64
        Group in which the tree is worth most, -1 where none fits.
    share : (n,) float64
        Share of the place's cost that the tree bears there, 0..1.
    """
    n, groups = len(trees.tree), len(trees.capacity)
    surplus, share = np.zeros(n), np.zeros(n)
    group = np.full(n, -1)
    rate, place_cost, left = np.zeros(groups), np.zeros(groups), np.zeros(groups)
    gain = np.zeros(groups)
    for q in range(len(trees.first) - 1):
        for g in range(groups):
            radial_rate = radial[g] * stretch(trees, q, g)
            rate[g] = radial_rate + stop[g]
            place_cost[g] = radial_rate * trees.parking
            place_cost[g] += stop[g] * (trees.parking + trees.stop_travel[q])
            left[g] = place_cost[g]
        for i in range(trees.first[q], trees.first[q + 1]):
            best, where = -np.inf, -1
            for g in range(groups):
                gain[g] = -np.inf
                if fits(trees, i, q, g):
                    gain[g] = net[i] - rate[g] * trees.service[i]
                    if gain[g] - left[g] > best:
                        best, where = gain[g] - left[g], g
            if where < 0:
                continue
            group[i] = where
            surplus[i] = best if trees.mandatory[i] else max(0.0, best)
            borne = max(0.0, gain[where] - surplus[i])
            if place_cost[where] > 0:
                share[i] = min(1.0, borne / place_cost[where])
            for g in range(groups):
                left[g] = max(0.0, left[g] - max(0.0, gain[g] - surplus[i]))
    return surplus, group, share


@njit(cache=True)
def count_fitting(trees: Relaxation, chosen: BoolArray) -> IntArray:
    """Count the groups that fit each chosen tree.

    Parameters
    ----------
    trees : Relaxation
    chosen : (n,) bool

    Returns
    -------
    (n,) int64
        0 for trees that are not chosen.
    """
    count = np.zeros(len(trees.tree), np.int64)
    for q in range(len(trees.first) - 1):
        for i in range(trees.first[q], trees.first[q + 1]):
            for g in range(len(trees.capacity)):
                count[i] += chosen[i] and fits(trees, i, q, g)
    return count


@njit(cache=True)
def list_fitting(
    trees: Relaxation, chosen: BoolArray, count: int
) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
    """List the fitting pairs of tree and group.

    Parameters
    ----------
    trees : Relaxation
    chosen : (n,) bool
        Trees to list.
    count : int
        How many pairs these have.

    Returns
    -------
    tree, place, group : (count,) int64
        ``tree`` is a position in ``trees``.
    stretched : (count,) float64
        :func:`stretch` of the pair.
    """
    tree, place = np.empty(count, np.int64), np.empty(count, np.int64)
    group, stretched = np.empty(count, np.int64), np.empty(count)
    k = 0
    for q in range(len(trees.first) - 1):
        for i in range(trees.first[q], trees.first[q + 1]):
            if not chosen[i]:
                continue
            for g in range(len(trees.capacity)):
                if fits(trees, i, q, g):
                    tree[k], place[k], group[k] = i, q, g
                    stretched[k] = stretch(trees, q, g)
                    k += 1
    return tree, place, group, stretched
