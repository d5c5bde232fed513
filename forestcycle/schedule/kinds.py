"""Crew-days of one kind: what one of them can do, the others can."""

import numpy as np

from forestcycle.schedule.problem import IntArray, Problem


def crew_day_kinds(
    problem: Problem,
    *,
    days: IntArray | None = None,
    skill: bool = False,
    cost: bool = False,
    dates: bool = False,
) -> IntArray:
    """Give each crew-day the number of its kind.

    Crew-days of one kind have the same depot, minutes, start and break.

    Parameters
    ----------
    problem : Problem
    days : (c,) int64, optional
        Crew-days; all by default.
    skill : bool
        And the same skills and equipment.
    cost : bool
        And the same cost.
    dates : bool
        And dates on which the same trees may be visited.

    Returns
    -------
    (c,) int64
        Kind of each crew-day, in rising order of depot, skill, minutes and so on.
    """
    columns = [
        problem.depot,
        *([problem.crew_skill] if skill else []),
        problem.capacity_minutes,
        problem.start_minute,
        problem.break_after,
        problem.break_minutes,
        *([problem.day_cost_cents] if cost else []),
        *(problem.open_on[np.unique(problem.window)][:, problem.date] if dates else []),
    ]
    chosen = slice(None) if days is None else days
    rows = np.column_stack([column[chosen] for column in columns])
    kind = np.unique(rows, axis=0, return_inverse=True)[1]
    return np.asarray(kind.reshape(-1), dtype=np.int64)
