"""Recall: the span in which a tree should next be visited.

No published source ties the interval between visits to the dose. This rule
is a model of our own, held in tables: a larger dose never brings a crew back
sooner, and more remaining work never later. A few faults do not wait for it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt

from forestcycle.practice.age_class import DAYS_PER_YEAR, YOUNG
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.catalogue import FloatArray, IntArray
from forestcycle.practice.state import STATES
from forestcycle.practice.tables import Column, load_table

POSITIVE = Column("number", least=0)
RECALL_COLUMNS = {
    "age_class": Column(words=AGE_CLASSES, once=True),
    "least_years": POSITIVE,
    "due_years_with_work_left": POSITIVE,
    "due_years_with_none_left": POSITIVE,
    "grace_years": POSITIVE,
    "usual_growth_cm_per_year": Column("number", least=0.01),
}
STATE_COLUMNS = {
    "state": Column(words=STATES, once=True),
    "least_factor": Column("number", least=1),
    "due_factor": Column("number", least=0.1),
}
FAULT_COLUMNS = {"defect": Column(), "grace_years": POSITIVE}
FASTEST, SLOWEST = 0.8, 1.25

DateArray = npt.NDArray[np.datetime64]
NEVER = np.datetime64("NaT", "D")
MOST_YEARS = 100.0
"""A city's own tables may say more; dates with nanoseconds end in 2262."""


@dataclass(frozen=True)
class RecallTables:
    """The recall model's figures by age class and by state, and the training sequence.

    Attributes
    ----------
    least_years, years_with_work, years_with_none, grace_years, usual_growth : ndarray
        Shape (age classes,).
    least_factor, due_factor : ndarray of float64
        Shape (states,).
    training_years : ndarray of float64
        Years after planting at which a young tree is visited, rising.
    """

    least_years: FloatArray
    years_with_work: FloatArray
    years_with_none: FloatArray
    grace_years: FloatArray
    usual_growth: FloatArray
    least_factor: FloatArray
    due_factor: FloatArray
    training_years: FloatArray


def load_recall(*, folder: Path | None = None) -> RecallTables:
    """Load ``recall.csv``, ``recall_states.csv`` and ``training.csv``.

    Parameters
    ----------
    folder : Path, optional
        With the city's own tables.

    Returns
    -------
    RecallTables

    Raises
    ------
    SettingsError
        Where a table does not fit.
    """
    ages = load_table("recall", RECALL_COLUMNS, folder=folder).set_index("age_class")
    ages = ages.loc[list(AGE_CLASSES)]
    states = load_table("recall_states", STATE_COLUMNS, folder=folder).set_index("state")
    states = states.loc[list(STATES)]
    training = load_table("training", {"years_after_planting": POSITIVE}, folder=folder)
    return RecallTables(
        least_years=ages["least_years"].to_numpy(),
        years_with_work=ages["due_years_with_work_left"].to_numpy(),
        years_with_none=ages["due_years_with_none_left"].to_numpy(),
        grace_years=ages["grace_years"].to_numpy(),
        usual_growth=ages["usual_growth_cm_per_year"].to_numpy(),
        least_factor=states["least_factor"].to_numpy(),
        due_factor=states["due_factor"].to_numpy(),
        training_years=np.sort(training["years_after_planting"].to_numpy()),
    )


def load_urgent_faults(*, folder: Path | None = None) -> Mapping[str, float]:
    """Load ``recall_faults.csv``: faults that are due at once, and their grace in years.

    Parameters
    ----------
    folder : Path, optional
        With the city's own tables.

    Returns
    -------
    mapping of str to float
        By name in the catalogue.
    """
    table = load_table("recall_faults", FAULT_COLUMNS, folder=folder)
    return dict(zip(table["defect"], table["grace_years"], strict=True))


@dataclass(frozen=True)
class Recall:
    """The span of each tree's next visit.

    Attributes
    ----------
    not_before, due, overdue_after : ndarray of datetime64[ns]
        Rising in this order.
    state : ndarray of int64
        Position in ``RECALL_STATES`` on the day of the assessment.
    """

    not_before: DateArray
    due: DateArray
    overdue_after: DateArray
    state: IntArray


def intervals(
    tables: RecallTables,
    age_class: IntArray,
    state: IntArray,
    growth_cm_per_year: FloatArray,
    last_dose: FloatArray,
    usual_dose: FloatArray,
    remaining_dose: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return years from the last visit to not-before, due and overdue.

    Parameters
    ----------
    tables : RecallTables
    age_class, state : ndarray of int64
    growth_cm_per_year : ndarray of float64
        Fast growers come back sooner, by at most a fifth.
    last_dose : ndarray of float64
        A dose above the usual one lengthens the pause in proportion.
    usual_dose : ndarray of float64
        Of a sound tree of the age class, above 0.
    remaining_dose : ndarray of float64
        Work left; a usual dose or more counts in full.

    Returns
    -------
    least, due, overdue : ndarray of float64
    """
    heavy = np.maximum(last_dose / usual_dose, 1)
    least = least_years(tables, age_class, state, last_dose, usual_dose)
    left = np.clip(remaining_dose / usual_dose, 0, 1)
    none, some = tables.years_with_none[age_class], tables.years_with_work[age_class]
    growth = np.maximum(growth_cm_per_year, 0.01)
    pace = np.clip((tables.usual_growth[age_class] / growth) ** 0.25, FASTEST, SLOWEST)
    due = (none - (none - some) * left) * pace * tables.due_factor[state]
    due = np.maximum(due + tables.least_years[age_class] * (heavy - 1), least)
    return least, due, due + tables.grace_years[age_class]


def least_years(
    tables: RecallTables,
    age_class: IntArray,
    state: IntArray,
    last_dose: FloatArray,
    usual_dose: FloatArray,
) -> FloatArray:
    """Return the years that each crown rests after its last dose.

    Parameters are those of :func:`intervals`.

    Returns
    -------
    ndarray of float64
    """
    heavy = np.maximum(last_dose / usual_dose, 1)
    least: FloatArray = tables.least_years[age_class] * tables.least_factor[state] * heavy
    return least


def still_resting(last_visit: DateArray, least: FloatArray, *, on: date) -> npt.NDArray[np.bool_]:
    """Say which crowns still rest from their last dose.

    Parameters
    ----------
    last_visit : ndarray of datetime64[ns]
        NaT where never visited.
    least : ndarray of float64
        From :func:`least_years`.
    on : date

    Returns
    -------
    ndarray of bool
    """
    visited = ~np.isnat(last_visit)
    rested = last_visit.astype("datetime64[D]") + _days(np.where(visited, least, 0))
    return visited & (np.datetime64(on, "D") < rested)


def at_once(found: Recall, grace_years: FloatArray, *, on: date) -> Recall:
    """Let trees with an urgent fault be due on the day of the assessment.

    Parameters
    ----------
    found : Recall
    grace_years : ndarray of float64
        From the day of the assessment until overdue, NaN where nothing is urgent.
    on : date

    Returns
    -------
    Recall
    """
    urgent = np.isfinite(grace_years)
    today = np.datetime64(on, "D")
    latest = (today + _days(np.where(urgent, grace_years, 0))).astype("datetime64[ns]")
    soonest = np.where(urgent, np.datetime64(on, "ns"), found.due)
    due = np.minimum(found.due, soonest)
    overdue_after = np.where(urgent, np.minimum(found.overdue_after, latest), found.overdue_after)
    return Recall(
        not_before=np.minimum(found.not_before, due),
        due=due,
        overdue_after=np.maximum(overdue_after, due),
        state=_state_on(today, due, overdue_after),
    )


def recall(
    tables: RecallTables,
    *,
    on: date,
    age_class: IntArray,
    state: IntArray,
    growth_cm_per_year: FloatArray,
    planted_on: DateArray,
    last_visit: DateArray,
    last_dose: FloatArray,
    usual_dose: FloatArray,
    remaining_dose: FloatArray,
) -> Recall:
    """Work out each tree's recall.

    A visited tree is recalled by :func:`intervals`; a young one of known
    planting date not later than the next step of the training sequence, but
    never inside the pause after its last dose. A tree never visited follows
    the training sequence if young and of known planting date, else it is due
    at once; it is never overdue by more than one span, since nobody knows
    since when.

    Parameters
    ----------
    tables : RecallTables
    on : date
        Day of the assessment.
    age_class, state : ndarray of int64
    growth_cm_per_year : ndarray of float64
    planted_on, last_visit : ndarray of datetime64[ns]
        NaT where unknown or never.
    last_dose, usual_dose, remaining_dose : ndarray of float64
        ``last_dose`` without NaN.

    Returns
    -------
    Recall
    """
    today = np.datetime64(on, "D")
    least, due, overdue = intervals(
        tables, age_class, state, growth_cm_per_year, last_dose, usual_dose, remaining_dose
    )
    visited = ~np.isnat(last_visit)
    grace = overdue - due
    start = np.where(visited, last_visit, today).astype("datetime64[D]")
    not_before = start + _days(np.where(visited, least, 0))
    due_on = start + _days(np.where(visited, due, 0))

    planted = np.where(age_class == YOUNG, planted_on, NEVER).astype("datetime64[D]")
    step_on = _next_step(tables, planted, np.where(visited, start, planted), least)
    trained = ~np.isnat(step_on)
    sooner = np.maximum(np.minimum(due_on, step_on), not_before)
    due_on = np.where(trained & visited, sooner, due_on)
    first = trained & ~visited
    longest_wait = today - _days(grace)
    due_on = np.where(first, np.maximum(step_on, longest_wait), due_on)
    not_before = np.where(first, np.minimum(due_on, planted + _days(least)), not_before)
    overdue_after = due_on + _days(grace)
    due_ns, overdue_ns = due_on.astype("datetime64[ns]"), overdue_after.astype("datetime64[ns]")
    return Recall(
        not_before=not_before.astype("datetime64[ns]"),
        due=due_ns,
        overdue_after=overdue_ns,
        state=_state_on(today, due_ns, overdue_ns),
    )


def _next_step(
    tables: RecallTables, planted: DateArray, last: DateArray, least: FloatArray
) -> DateArray:
    """Return the next step of the training sequence that the rest after a day lets through.

    NaT where the tree is in no sequence, or has passed its last step.
    """
    age = (last - planted) / np.timedelta64(1, "D") / DAYS_PER_YEAR
    step = np.searchsorted(tables.training_years, age + least, side="left")
    years = np.append(tables.training_years, 0.0)[step]
    return np.where(step < len(tables.training_years), planted + _days(years), NEVER)


def _state_on(today: np.datetime64, due: DateArray, overdue_after: DateArray) -> IntArray:
    state = np.where(today < due, 0, np.where(today <= overdue_after, 1, 2))
    return state.astype(np.int64)


def _days(years: FloatArray) -> npt.NDArray[np.timedelta64]:
    return np.ceil(np.minimum(years, MOST_YEARS) * DAYS_PER_YEAR).astype("timedelta64[D]")
