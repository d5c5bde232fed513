"""When a plan's crews arrive and leave, stop by stop."""

from dataclasses import dataclass

import numpy as np

from forestcycle.schedule.hours import earliest_begin
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.travel.remembered import RememberedDrives


@dataclass(frozen=True)
class Timetable:
    """Clock times of a plan.

    Attributes
    ----------
    arrive, leave : (s,) float64
        Minute of the day at which work at each stop of the plan begins and
        ends, the break counted in.
    travel_minutes : (s,) float64
        Street minutes and parking before each stop.
    home_minutes : (c,) float64
        Street minutes of each crew-day's way home; 0 where it has no stop.
    """

    arrive: FloatArray
    leave: FloatArray
    travel_minutes: FloatArray
    home_minutes: FloatArray


def timetable(problem: Problem, plan: Plan) -> Timetable:
    """Work out the clock times of every stop.

    Crews wait where they come before a tree's hours. The break is taken when
    it is due and the crew is not at work on a tree.

    Parameters
    ----------
    problem : Problem
    plan : Plan

    Returns
    -------
    Timetable
    """
    arrive, leave, travel = (np.zeros(len(plan.tree)) for _ in range(3))
    home = np.zeros(problem.crew_days)
    bounds = np.searchsorted(plan.crew_day, np.arange(problem.crew_days + 1))
    for crew_day in np.unique(plan.crew_day).tolist():
        stops = slice(bounds[crew_day], bounds[crew_day + 1])
        trees = plan.tree[stops]
        legs = legs_of(problem, crew_day, trees)
        travel[stops], home[crew_day] = legs[:-1], legs[-1]
        begin = begin_minutes(problem, crew_day, trees, legs)
        arrive[stops] = on_the_clock(problem, crew_day, begin)
        leave[stops] = arrive[stops] + problem.service_minutes[trees]
    return Timetable(arrive, leave, travel, home)


def legs_of(problem: Problem, crew_day: int, trees: IntArray) -> FloatArray:
    """Minutes of each leg of a route, parking included, the way home last.

    Parameters
    ----------
    problem : Problem
    crew_day : int
    trees : (s,) int64
        In order.

    Returns
    -------
    (s + 1,) float64
    """
    depot = problem.depot[[crew_day]]
    nodes = np.concatenate([depot, problem.place[trees], depot])
    legs = _drives(problem, nodes)
    moved = nodes[1:-1] != nodes[:-2]
    legs[:-1] = np.where(moved, legs[:-1] + problem.parking_minutes, 0.0)
    return np.asarray(legs, dtype=np.float64)


def route_minutes(problem: Problem, crew_day: int, trees: IntArray) -> float:
    """Minutes of a route: at its trees, on its legs and for parking; waiting is not counted.

    Parameters
    ----------
    problem : Problem
    crew_day : int
    trees : (s,) int64
        In order.

    Returns
    -------
    float
    """
    return float(legs_of(problem, crew_day, trees).sum() + problem.service_minutes[trees].sum())


def _drives(problem: Problem, nodes: IntArray) -> FloatArray:
    """Minutes from each node to the next."""
    if isinstance(problem.travel, RememberedDrives):
        return problem.travel.legs(nodes)
    distinct, at = np.unique(nodes, return_inverse=True)
    return np.array(problem.travel.minutes(distinct, distinct)[at[:-1], at[1:]])


def begin_minutes(problem: Problem, crew_day: int, trees: IntArray, legs: FloatArray) -> FloatArray:
    """Work out when each stop begins.

    Parameters
    ----------
    problem : Problem
    crew_day : int
    trees : (s,) int64
        In order.
    legs : (s + 1,) float64
        As from :func:`legs_of`.

    Returns
    -------
    (s,) float64
        Working minutes since leaving the depot.
    """
    opens = earliest_begin(
        problem.hours_from[trees],
        problem.start_minute[crew_day],
        problem.break_after[crew_day],
        problem.break_minutes[crew_day],
    )
    begin = np.zeros(len(trees))
    clock = 0.0
    for k, service in enumerate(problem.service_minutes[trees]):
        begin[k] = max(clock + legs[k], opens[k])
        clock = begin[k] + service
    return begin


def on_the_clock(problem: Problem, crew_day: int, working: FloatArray) -> FloatArray:
    """Tell the minute of the day at which numbers of working minutes have passed.

    Parameters
    ----------
    problem : Problem
    crew_day : int
    working : (s,) float64
        Working minutes since leaving the depot.

    Returns
    -------
    (s,) float64
    """
    rested = np.where(working >= problem.break_after[crew_day], problem.break_minutes[crew_day], 0)
    return np.asarray(problem.start_minute[crew_day] + working + rested, dtype=np.float64)
