"""The order of a crew-day's stops after a change: as it was, newcomers in between."""

import numpy as np

from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.revise_standing import Standing


def in_old_order(
    problem: Problem, standing: Standing, home: IntArray, day: int, found: IntArray
) -> IntArray:
    """Keep the order in force among the stops that stay on their crew-day.

    An order found that keeps it stands. Else newcomers go where they take the
    least time, and behind the last stop whose order is locked. Where that takes
    too long the order found by the search stands; where an order is locked, the
    newcomers of least worth make way, then stops whose order is not.

    Parameters
    ----------
    problem : Problem
    standing : Standing
    home : (n,) int64
        Crew-day promised to each tree.
    day : int
        Crew-day.
    found : (s,) int64
        Trees in the order that the search found.

    Returns
    -------
    (k,) int64
        Trees in order; fewer than ``found`` only behind a locked order.
    """
    stay = found[home[found] == day]
    rank = standing.order[stay]
    if not standing.lock_order[stay].any() and (np.diff(rank) >= 0).all():
        return found
    stay = stay[np.argsort(rank, kind="stable")]
    newcomers = found[home[found] != day]
    while True:
        locked = np.flatnonzero(standing.lock_order[stay])
        first = int(locked[-1]) + 1 if len(locked) else 0
        route = _inserted(problem, day, stay, newcomers, first)
        if fits(problem, day, route):
            return np.asarray(route)
        if not len(locked):
            return found
        least = _least(problem, newcomers, stay[~standing.lock_order[stay]])
        if least is None:
            return np.asarray(route)
        newcomers, stay = newcomers[newcomers != least], stay[stay != least]


def _least(problem: Problem, newcomers: IntArray, free: IntArray) -> int | None:
    """Choose the stop that makes way first: newcomers do, mandatory ones last."""
    for stops in (
        newcomers[~problem.mandatory[newcomers]],
        free[~problem.mandatory[free]],
        newcomers,
    ):
        if len(stops):
            return int(stops[np.argmin(problem.worth[stops])])
    return None


def behind_locks(
    problem: Problem, standing: Standing, home: IntArray, day: int, route: IntArray
) -> IntArray:
    """Bring a route into an order that keeps the crew-day's locked orders, if it has any.

    Parameters
    ----------
    problem : Problem
    standing : Standing
    home : (n,) int64
        Crew-day promised to each tree.
    day : int
        Crew-day.
    route : (s,) int64
        Trees in order.

    Returns
    -------
    (k,) int64
        As from :func:`in_old_order` where an order is locked; else the route as it is.
    """
    staying = route[home[route] == day]
    if not standing.lock_order[staying].any():
        return route
    return in_old_order(problem, standing, home, day, route)


def _inserted(
    problem: Problem, day: int, stay: IntArray, newcomers: IntArray, first: int
) -> IntArray:
    """Put each newcomer where the route grows least, at position ``first`` or later."""
    trees = np.concatenate([stay, newcomers])
    nodes = np.append(problem.place[trees], problem.depot[day])
    distinct, at = np.unique(nodes, return_inverse=True)
    leg = problem.travel.minutes(distinct, distinct)[np.ix_(at, at)]
    leg = leg + np.where(nodes[:, None] == nodes[None, :], 0.0, problem.parking_minutes)
    leg[:, -1] -= np.where(nodes == nodes[-1], 0.0, problem.parking_minutes)
    depot = len(trees)
    route = list(range(len(stay)))
    for tree in range(len(stay), depot):
        before, after = np.array([depot, *route]), np.array([*route, depot])
        extra = leg[before, tree] + leg[tree, after] - leg[before, after]
        route.insert(first + int(np.argmin(extra[first:])), tree)
    return trees[route]
