"""What the years ahead come to, in figures a council asks for."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from forestcycle.outlook.budget import CrewKind
from forestcycle.outlook.solve import HorizonPlan
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.trajectory import MEASURES, Trajectory

BEST = "best visits"
GONE_BELOW = 0.01
"""A backlog is gone while at most this share of the trees is due and not visited."""
CENTS = 100
CALENDAR = ("peak_backlog_year", "backlog_gone_year")
"""Answers that are years."""


@dataclass(frozen=True)
class Course:
    """One way of spending a budget.

    Attributes
    ----------
    budget : str
    choice : str
        ``best visits`` or the name of a habit.
    trajectory : Trajectory
    """

    budget: str
    choice: str
    trajectory: Trajectory


def backlog(trajectory: Trajectory) -> FloatArray:
    """Return the trees that are due and not visited at each year's end.

    Parameters
    ----------
    trajectory : Trajectory

    Returns
    -------
    (years,) float64
    """
    return trajectory.city("due_unvisited")


def year_backlog_gone(trajectory: Trajectory) -> int | None:
    """Return the first year (1, 2, ...) from which the backlog stays gone, None for never.

    Parameters
    ----------
    trajectory : Trajectory

    Returns
    -------
    int or None
    """
    left = backlog(trajectory) > GONE_BELOW * trajectory.city("trees")
    last = np.flatnonzero(left)
    if not len(last):
        return 1
    return int(last[-1]) + 2 if last[-1] + 1 < trajectory.years else None


def comes_to(trajectory: Trajectory) -> dict[str, float]:
    """Return what all years come to: sums, peaks, and the state at the end.

    Parameters
    ----------
    trajectory : Trajectory

    Returns
    -------
    dict of str to float
        Years are counted from 1; one more than the last is later than all of them.
    """
    gone, waiting = year_backlog_gone(trajectory), backlog(trajectory)
    return {
        "cents": float(trajectory.cents.sum()),
        "visits": float(trajectory.city("visits").sum()),
        "minutes": float(trajectory.city("minutes").sum()),
        "worth_undone": float(trajectory.city("worth_undone").sum()),
        "corrected": float(trajectory.city("corrected").sum()),
        "past_correcting": float(trajectory.city("past_correcting").sum()),
        "dose_owed_at_end": float(trajectory.city("dose_owed")[-1]),
        "peak_backlog": float(waiting.max()),
        "peak_backlog_year": 1.0 + int(waiting.argmax()),
        "backlog_gone_year": float(trajectory.years + 1 if gone is None else gone),
        "on_recall_share_at_end": float(trajectory.share("on_recall", "trees")[-1]),
        "young_on_recall_share_at_end": float(trajectory.share("young_on_recall", "young")[-1]),
    }


def years_table(courses: list[Course], first_year: int) -> pd.DataFrame:
    """Return the city's figures, one row per budget, choice and year.

    Parameters
    ----------
    courses : list of Course
    first_year : int
        Calendar year of the first one.

    Returns
    -------
    DataFrame
        ``budget choice year``, the keys of ``MEASURES``, ``on_recall_share
        young_on_recall_share crews crew_days cents``.
    """
    parts = []
    for course in courses:
        found = course.trajectory
        table = pd.DataFrame({name: found.city(name) for name in MEASURES})
        table.insert(0, "year", first_year + np.arange(found.years))
        table.insert(0, "choice", course.choice)
        table.insert(0, "budget", course.budget)
        table["on_recall_share"] = found.share("on_recall", "trees")
        table["young_on_recall_share"] = found.share("young_on_recall", "young")
        table["crews"] = found.crews.sum(axis=1)
        table["crew_days"] = found.crew_days.sum(axis=1)
        table["cents"] = np.rint(found.cents).astype(np.int64)
        parts.append(table)
    return pd.concat(parts, ignore_index=True)


def wards_table(courses: list[Course], first_year: int) -> pd.DataFrame:
    """Return the figures of every ward, one row per budget, choice, year and ward.

    Parameters
    ----------
    courses : list of Course
    first_year : int
        Calendar year.

    Returns
    -------
    DataFrame
    """
    parts = []
    for course in courses:
        found = course.trajectory
        year, ward = (axis.ravel() for axis in np.indices((found.years, len(found.wards))))
        table = pd.DataFrame({name: found.measures[name].ravel() for name in MEASURES})
        table.insert(0, "ward", np.array(found.wards)[ward])
        table.insert(0, "year", first_year + year)
        table.insert(0, "choice", course.choice)
        table.insert(0, "budget", course.budget)
        table["on_recall_share"] = found.ward_share("on_recall", "trees").ravel()
        table["young_on_recall_share"] = found.ward_share("young_on_recall", "young").ravel()
        parts.append(table)
    return pd.concat(parts, ignore_index=True)


def crews_table(
    courses: list[Course], crew_kinds: tuple[CrewKind, ...], first_year: int
) -> pd.DataFrame:
    """Return hired crews and paid crew-days, one row per budget, choice, year and kind of crew.

    Parameters
    ----------
    courses : list of Course
    crew_kinds : tuple of CrewKind
    first_year : int
        Calendar year.

    Returns
    -------
    DataFrame
    """
    parts = []
    for course in courses:
        found = course.trajectory
        year, kind = (axis.ravel() for axis in np.indices(found.crews.shape))
        parts.append(
            pd.DataFrame(
                {
                    "budget": course.budget,
                    "choice": course.choice,
                    "year": first_year + year,
                    "crew": np.array([crew.name for crew in crew_kinds])[kind],
                    "crews": found.crews.ravel(),
                    "crew_days": found.crew_days.ravel(),
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def margins_table(
    plans: list[HorizonPlan], crew_kinds: tuple[CrewKind, ...], first_year: int
) -> pd.DataFrame:
    """Return what a little more would be worth, one row per budget, year and kind of crew.

    ``worth_per_crew_day`` is the worth left undone, over all years counted,
    that one more crew-day in that year would save; ``worth_per_1000`` what
    1,000 more units of the currency in that year would. They are the dual
    values of the linear program: they hold for small changes.

    Parameters
    ----------
    plans : list of HorizonPlan
    crew_kinds : tuple of CrewKind
    first_year : int
        Calendar year.

    Returns
    -------
    DataFrame
    """
    parts = []
    for plan in plans:
        year, kind = (axis.ravel() for axis in np.indices(plan.day_price.shape))
        parts.append(
            pd.DataFrame(
                {
                    "budget": plan.budget.name,
                    "year": first_year + year,
                    "crew": np.array([crew.name for crew in crew_kinds])[kind],
                    "worth_per_crew_day": plan.day_price.ravel(),
                    "worth_per_1000": plan.cent_price[year] * 1000 * CENTS,
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def summary(courses: list[Course], plans: list[HorizonPlan], first_year: int) -> pd.DataFrame:
    """Return one row per budget and choice with what it comes to.

    Parameters
    ----------
    courses : list of Course
    plans : list of HorizonPlan
        Of every budget of the courses.
    first_year : int
        Calendar year.

    Returns
    -------
    DataFrame
        Sums over the years shown, the backlog's peak and the year in which it
        is gone (empty if it is not), shares on recall in the last year, and
        for the best visits the proven gap.
    """
    gaps = {plan.budget.name: plan.gap for plan in plans}
    rows = []
    for course in courses:
        answers: dict[str, object] = {"budget": course.budget, "choice": course.choice}
        answers |= comes_to(course.trajectory)
        answers["gap"] = gaps[course.budget] if course.choice == BEST else None
        rows.append(answers)
    table = pd.DataFrame(rows)
    last = np.array([course.trajectory.years for course in courses])
    for name in CALENDAR:
        year = table[name].astype(np.int64)
        table[name] = (first_year - 1 + year).astype("Int64").mask(year > last)
    table["cents"] = np.rint(table["cents"]).astype(np.int64)
    return table
