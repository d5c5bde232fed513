"""Routes of groups of crew-days as candidates for single crew-days, and the other way round."""

from collections.abc import Iterable

import numpy as np

from forestcycle.schedule.choose import Column
from forestcycle.schedule.group import Groups
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.route_master import GroupRoute
from forestcycle.schedule.timetable import begin_minutes, legs_of, on_the_clock

MINUTES_TOLERANCE = 1e-6


def as_group_routes(groups: Groups, columns: Iterable[Column]) -> list[GroupRoute]:
    """Forget which crew-day of its group a candidate is for.

    Parameters
    ----------
    groups : Groups
    columns : iterable of Column

    Returns
    -------
    list of GroupRoute
    """
    return [
        GroupRoute(int(groups.of_crew_day[column.crew_day]), column.trees) for column in columns
    ]


def as_columns(problem: Problem, groups: Groups, routes: Iterable[GroupRoute]) -> list[Column]:
    """Give each route to the first crew-day of its group that can do it.

    Parameters
    ----------
    problem : Problem
    groups : Groups
    routes : iterable of GroupRoute

    Returns
    -------
    list of Column
        Without the routes that repeat a tree, or that the hours of trees or
        the exact dates of the group leave to no crew-day.
    """
    days = [np.flatnonzero(groups.of_crew_day == g) for g in range(groups.count)]
    columns = []
    for route in routes:
        trees = np.array(route.trees, dtype=np.int64)
        able = (day for day in days[route.group].tolist() if _works(problem, day, trees))
        day = next(able, None) if len(set(route.trees)) == len(route.trees) else None
        if day is not None:
            columns.append(Column(day, route.trees))
    return columns


def _works(problem: Problem, day: int, trees: IntArray) -> bool:
    """Whether a crew-day can visit trees in this order."""
    if not problem.open_on[problem.window[trees], problem.date[day]].all():
        return False
    legs = legs_of(problem, day, trees)
    begin = begin_minutes(problem, day, trees, legs)
    done = begin + problem.service_minutes[trees]
    leaves = on_the_clock(problem, day, begin) + problem.service_minutes[trees]
    in_hours = (leaves <= problem.hours_until[trees] + MINUTES_TOLERANCE).all()
    home = float(done[-1] + legs[-1])
    return bool(in_hours and home <= problem.capacity_minutes[day] + MINUTES_TOLERANCE)
