"""When a plan's crews arrive and leave, stop by stop."""

from dataclasses import dataclass

import numpy as np

from forestcycle.schedule.problem import FloatArray, IntArray, Plan, Problem


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
    crew_day : (k,) int64
        Crew-days that are used, rising.
    back : (k,) float64
        Minute of the day at which each is back at its depot.
    back_minutes : (k,) float64
        Street minutes of its last leg.
    worked_minutes : (k,) float64
        From leaving the depot to being back, the break not counted.
    """

    arrive: FloatArray
    leave: FloatArray
    travel_minutes: FloatArray
    crew_day: IntArray
    back: FloatArray
    back_minutes: FloatArray
    worked_minutes: FloatArray


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
    used, first = np.unique(plan.crew_day, return_index=True)
    bounds = np.append(first, len(plan.tree))
    arrive, leave, travel = (np.zeros(len(plan.tree)) for _ in range(3))
    back, back_minutes, worked = (np.zeros(len(used)) for _ in range(3))
    for row, crew_day in enumerate(used):
        stops = slice(bounds[row], bounds[row + 1])
        trees = plan.tree[stops]
        legs = legs_of(problem, int(crew_day), trees)
        begin, clock = _working_times(problem, int(crew_day), trees, legs)
        arrive[stops] = _on_the_clock(problem, int(crew_day), begin)
        leave[stops] = arrive[stops] + problem.service_minutes[trees]
        travel[stops], back_minutes[row] = legs[:-1], legs[-1]
        worked[row] = clock
        back[row] = _on_the_clock(problem, int(crew_day), np.array([clock]))[0]
    return Timetable(arrive, leave, travel, used.astype(np.int64), back, back_minutes, worked)


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
    legs = np.array(
        [
            float(problem.travel.minutes(nodes[[k]], nodes[[k + 1]])[0, 0])
            for k in range(len(nodes) - 1)
        ]
    )
    moved = nodes[1:-1] != nodes[:-2]
    legs[:-1] = np.where(moved, legs[:-1] + problem.parking_minutes, 0.0)
    return legs


def _working_times(
    problem: Problem, crew_day: int, trees: IntArray, legs: FloatArray
) -> tuple[FloatArray, float]:
    """Working minutes at which each stop begins and at which the crew is back."""
    opens = _in_working_minutes(problem, crew_day, problem.hours_from[trees])
    begin = np.zeros(len(trees))
    clock = 0.0
    for k, service in enumerate(problem.service_minutes[trees]):
        begin[k] = max(clock + legs[k], opens[k])
        clock = begin[k] + service
    return begin, float(clock + legs[-1])


def _on_the_clock(problem: Problem, crew_day: int, working: FloatArray) -> FloatArray:
    """Minute of the day of a number of working minutes since leaving the depot."""
    rested = np.where(working >= problem.break_after[crew_day], problem.break_minutes[crew_day], 0)
    return np.asarray(problem.start_minute[crew_day] + working + rested, dtype=np.float64)


def _in_working_minutes(problem: Problem, crew_day: int, clock: FloatArray) -> FloatArray:
    """Least working minutes at which the clock shows at least a minute of the day."""
    passed = clock - problem.start_minute[crew_day]
    due, rest = problem.break_after[crew_day], problem.break_minutes[crew_day]
    return np.where(passed < due, passed, np.maximum(due, passed - rest))
