"""What each group of crew-days could visit, ready for the search of routes."""

import numpy as np

from forestcycle.schedule.group import Groups
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.relaxation import Relaxation, count_fitting, list_fitting
from forestcycle.schedule.route_search import Stops, Words

REMEMBERED = 10
"""Nearest places that a label remembers."""


def stops_of_groups(
    problem: Problem, groups: Groups, trees: Relaxation
) -> list[tuple[IntArray, Stops]]:
    """Collect the trees that each group could visit, whatever the hours of the day.

    Parameters
    ----------
    problem : Problem
    groups : Groups
    trees : Relaxation
        Both of the problem.

    Returns
    -------
    list of (tree, stops)
        ``tree`` (m,) are positions in the problem's arrays, sorted by place.
    """
    every = np.ones(problem.trees, dtype=np.bool_)
    start, end = np.zeros(problem.trees), np.full(problem.trees, np.inf)
    trees = trees._replace(hours_from=start, hours_until=end)
    pairs = int(count_fitting(trees, every).sum())
    row, _, group, _ = list_fitting(trees, every, pairs)
    of_group = [trees.tree[row[group == g]] for g in range(groups.count)]
    return [
        (tree, _stops(problem, groups.depot[[g]], tree, float(trees.capacity[g])))
        for g, tree in enumerate(of_group)
    ]


def _stops(problem: Problem, depot: IntArray, tree: IntArray, capacity: float) -> Stops:
    node, parking = problem.place[tree], problem.parking_minutes
    place = np.unique(node, return_inverse=True)[1].reshape(-1).astype(np.int64)
    leg = problem.travel.minutes(node, node)
    leg = np.where(node[:, None] != node[None, :], leg + parking, 0.0)
    way_out = problem.travel.minutes(depot, node)[0]
    return Stops(
        place=place,
        leg=np.ascontiguousarray(leg, dtype=np.float64),
        way_out=np.where(node != depot, way_out + parking, 0.0),
        way_back=problem.travel.minutes(node, depot)[:, 0].astype(np.float64),
        service=problem.service_minutes[tree],
        capacity=capacity,
        near=_near(place, leg),
    )


def _near(place: IntArray, leg: FloatArray) -> Words:
    """Bits of the nearest places of each place, itself included."""
    count = int(place.max(initial=-1)) + 1
    first = np.searchsorted(place, np.arange(count))
    both_ways = leg[np.ix_(first, first)] + leg[np.ix_(first, first)].T
    np.fill_diagonal(both_ways, -1.0)
    nearest = np.argsort(both_ways, axis=1, kind="stable")[:, : REMEMBERED + 1]
    remembers: BoolArray = np.zeros((count, 64 * (-(-count // 64))), dtype=np.bool_)
    np.put_along_axis(remembers, nearest, values=True, axis=1)
    packed = np.packbits(remembers, axis=1, bitorder="little")
    words: Words = np.ascontiguousarray(packed).view("<u8").astype(np.uint64)
    return words


def only(stops: Stops, rows: IntArray) -> Stops:
    """Keep some of the trees.

    Parameters
    ----------
    stops : Stops
    rows : (k,) int64
        Ascending.

    Returns
    -------
    Stops
    """
    return stops._replace(
        place=stops.place[rows],
        leg=np.ascontiguousarray(stops.leg[np.ix_(rows, rows)]),
        way_out=stops.way_out[rows],
        way_back=stops.way_back[rows],
        service=stops.service[rows],
    )
