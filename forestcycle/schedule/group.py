"""Crew-days that the bound need not tell apart.

A year has hundreds of dates, but a bound needs only as many groups of
crew-days as differ in what they can reach and when. Dates are first merged
where the same windows are open; if still too many remain, neighbouring periods
are merged where that opens the fewest tree minutes too early or too late. A
merged period counts as open for a window as soon as one of its dates is, which
can only raise a bound.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forestcycle.schedule.kinds import crew_day_kinds
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem

MOST_GROUPS = 96


@dataclass(frozen=True)
class Groups:
    """Crew-days alike in depot, skill, capacity, hours, cost and period.

    Attributes
    ----------
    of_crew_day : (c,) int64
        Group of each crew-day.
    days : (g,) int64
        Crew-days in the group.
    depot : (g,) int64
        Travel node.
    skill : (g,) uint32
    capacity_minutes, start_minute, break_minutes : (g,) float64
    day_cost_cents : (g,) int64
    open_to : (w, g) bool
        Whether a window is open on at least one of the group's dates.
    exact : bool
        No two dates with different open windows were merged.
    """

    of_crew_day: IntArray
    days: IntArray
    depot: IntArray
    skill: NDArray[np.uint32]
    capacity_minutes: FloatArray
    start_minute: FloatArray
    break_minutes: FloatArray
    day_cost_cents: IntArray
    open_to: BoolArray
    exact: bool

    @property
    def count(self) -> int:
        """Number of groups."""
        return len(self.days)


def crew_day_groups(problem: Problem, *, most: int = MOST_GROUPS) -> Groups:
    """Group the crew-days of a problem.

    Parameters
    ----------
    problem : Problem
        With at least one crew-day.
    most : int
        About how many groups to form at most. Crew-days that differ in more
        than their date are never merged, so there may be more.

    Returns
    -------
    Groups
        Depends on the problem alone: the same problem gives the same groups.
    """
    kind = crew_day_kinds(problem, skill=True, cost=True)
    kind_count = int(kind.max()) + 1
    dates, date = np.unique(problem.date, return_inverse=True)
    open_on = problem.open_on[:, dates]
    minutes = np.zeros(len(problem.open_on))
    np.add.at(minutes, problem.window, problem.service_minutes)
    period, exact = _periods(open_on[minutes > 0], minutes[minutes > 0], max(1, most // kind_count))
    periods = int(period.max()) + 1
    distinct, of_crew_day = np.unique(kind * periods + period[date], return_inverse=True)
    first = np.zeros(len(distinct), dtype=np.int64)
    first[of_crew_day[::-1]] = np.arange(problem.crew_days)[::-1]
    return Groups(
        of_crew_day=of_crew_day.astype(np.int64),
        days=np.bincount(of_crew_day, minlength=len(distinct)).astype(np.int64),
        depot=problem.depot[first],
        skill=problem.crew_skill[first],
        capacity_minutes=problem.capacity_minutes[first],
        start_minute=problem.start_minute[first],
        break_minutes=problem.break_minutes[first],
        day_cost_cents=problem.day_cost_cents[first],
        open_to=_open_in(open_on, period)[:, distinct % periods],
        exact=exact,
    )


def _open_in(open_on: BoolArray, period: IntArray) -> BoolArray:
    """Windows that are open on any date of a period, shape (w, periods)."""
    result = np.zeros((len(open_on), int(period.max()) + 1), dtype=np.bool_)
    for date, number in enumerate(period):
        result[:, number] |= open_on[:, date]
    return result


def _periods(open_on: BoolArray, minutes: FloatArray, most: int) -> tuple[IntArray, bool]:
    """Period of each date, and whether only like dates share one."""
    _, period = np.unique(open_on, axis=1, return_inverse=True)
    period = _by_first_date(period.reshape(-1).astype(np.int64))
    is_open = _open_in(open_on, period)
    dates = np.bincount(period)
    exact = is_open.shape[1] <= most
    wrong = _wrongly_open(is_open, dates, minutes)
    while is_open.shape[1] > most:
        left = int(np.argmin(wrong))
        is_open[:, left] |= is_open[:, left + 1]
        is_open = np.delete(is_open, left + 1, axis=1)
        dates[left] += dates[left + 1]
        dates = np.delete(dates, left + 1)
        period[period > left] -= 1
        wrong = np.delete(wrong, left)
        near = slice(max(0, left - 1), left + 2)
        wrong[near][: dates[near].size - 1] = _wrongly_open(is_open[:, near], dates[near], minutes)
    return period, exact


def _by_first_date(label: IntArray) -> IntArray:
    """Renumber labels by the first date on which they occur."""
    _, first, label = np.unique(label, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[label.reshape(-1)]


def _wrongly_open(is_open: BoolArray, dates: IntArray, minutes: FloatArray) -> FloatArray:
    """Tree minutes times dates that merging each period with the next opens wrongly."""
    left, right = is_open[:, :-1], is_open[:, 1:]
    only_right = minutes @ (right & ~left)
    only_left = minutes @ (left & ~right)
    result: FloatArray = only_right * dates[:-1] + only_left * dates[1:]
    return result
