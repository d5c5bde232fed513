"""What each group of crew-days could visit, ready for the search of routes."""

import numpy as np

from forestcycle.schedule.group import Groups
from forestcycle.schedule.problem import MINUTES_PER_DAY, BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.relaxation import Relaxation, count_fitting, list_fitting
from forestcycle.schedule.route_search import Stops, Words

REMEMBERED = 10
"""Nearest units that a label remembers."""


def stops_of_groups(
    problem: Problem, groups: Groups, trees: Relaxation
) -> list[tuple[IntArray, Stops]]:
    """Collect the trees that each group could visit.

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
    pairs = int(count_fitting(trees, every).sum())
    row, _, group, _ = list_fitting(trees, every, pairs)
    of_group = [trees.tree[row[group == g]] for g in range(groups.count)]
    hours_matter = bool(
        (problem.hours_from > 0).any() or (problem.hours_until < MINUTES_PER_DAY).any()
    )
    return [
        (tree, _stops(problem, groups, g, tree, float(trees.capacity[g]), once=not hours_matter))
        for g, tree in enumerate(of_group)
    ]


def _stops(
    problem: Problem, groups: Groups, g: int, tree: IntArray, capacity: float, *, once: bool
) -> Stops:
    place, depot = problem.place[tree], groups.depot[[g]]
    unit = np.unique(place, return_inverse=True)[1] if once else np.arange(len(tree))
    parking = problem.parking_minutes
    leg = problem.travel.minutes(place, place)
    leg = np.where(place[:, None] != place[None, :], leg + parking, 0.0)
    way_out = problem.travel.minutes(depot, place)[0]
    opens, latest = _hours(problem, groups, g, tree)
    return Stops(
        unit=unit.reshape(-1).astype(np.int64),
        leg=np.ascontiguousarray(leg, dtype=np.float64),
        way_out=np.where(place != depot, way_out + parking, 0.0),
        way_back=problem.travel.minutes(place, depot)[:, 0].astype(np.float64),
        service=problem.service_minutes[tree],
        opens=opens,
        latest=latest,
        capacity=capacity,
        near=_near(unit.reshape(-1), leg),
    )


def _hours(problem: Problem, groups: Groups, g: int, tree: IntArray) -> tuple[FloatArray, FloatArray]:
    """Working minutes between which work may begin, on the most lenient day of the group.

    The clock is ahead of the working minutes by the break once that is due, at
    a time in which a group's crew-days may differ.
    """
    rest, start = groups.break_minutes[g], groups.start_minute[g]
    due = problem.break_after[groups.of_crew_day == g]
    opens = problem.hours_from[tree] - start
    opens = np.where(opens < due.min(), opens, np.maximum(due.min(), opens - rest))
    end = problem.hours_until[tree] - start - problem.service_minutes[tree]
    latest = np.where(end < due.max(), end, np.maximum(due.max(), end - rest))
    return np.maximum(opens, 0.0), latest + 1e-6


def _near(unit: IntArray, leg: FloatArray) -> Words:
    """Bits of the nearest units of each unit, itself included."""
    count = int(unit.max(initial=-1)) + 1
    first = np.searchsorted(unit, np.arange(count))
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
        unit=stops.unit[rows],
        leg=np.ascontiguousarray(stops.leg[np.ix_(rows, rows)]),
        way_out=stops.way_out[rows],
        way_back=stops.way_back[rows],
        service=stops.service[rows],
        opens=stops.opens[rows],
        latest=stops.latest[rows],
    )
