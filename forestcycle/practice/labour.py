"""Minutes and brush of a visit, from a table of slopes and assumptions.

Published are slopes: pruning takes 6 minutes more per inch of trunk diameter,
stacking the waste 1.5, between 4 and 16 inches, and a minute of pruning yields
3 pounds of waste (Churack, Miller, Ottman, Koval 1994, Journal of Arboriculture
20(4)); formative pruning of a young tree takes 1 to 4 minutes (Ryder and Moore
2013, Arboriculture & Urban Forestry 39(1)). Intercepts were not seen, nor
whether the minutes are a person's or a crew's. The table ``labour`` states what
is assumed instead, line by line, and a city refits it from its own actuals.
"""

from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.assessment import SKILLS
from forestcycle.practice.measures import CM_PER_INCH, KG_PER_POUND
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.words import from_codes

GROUND, CLIMB, LIFT, LINE_CLEARANCE = range(len(SKILLS))

LABOUR_COLUMNS = {
    "item": Column(),
    "value": Column("number", least=0, most=1000),
    "unit": Column(),
    "mark": Column(words=("seen", "from memory", "modelling choice")),
}


@dataclass(frozen=True)
class Labour:
    """The labour table's values.

    Attributes
    ----------
    pruning_minutes_per_inch, stacking_minutes_per_inch : float
        Person minutes per inch of trunk diameter, at the reference dose.
    brush_pounds_per_minute : float
        Waste per person minute of pruning.
    from_inches, until_inches : float
        Trunk diameters between which the slopes are published.
    level_from_inches : float
        Past this diameter minutes rise no further.
    pruning_minutes_at_start, stacking_minutes_at_start : float
        Person minutes at ``from_inches``, at the reference dose.
    least_pruning_minutes : float
        Person minutes for a visit with the least live wood to cut.
    reference_dose : float
        Dose for which the minutes above hold.
    minutes_per_further_item : float
        Person minutes for each work item after the first.
    inspection_minutes : float
        Crew minutes to look at the tree before the first cut, and to check after.
    ground_setup_minutes, climb_setup_minutes, lift_setup_minutes : float
        Crew minutes to get to the work and back, by skill.
    line_clearance_setup_minutes : float
    ground_reach_m, lift_reach_m : float
        Heights that pole tools and a lift reach.
    """

    pruning_minutes_per_inch: float
    stacking_minutes_per_inch: float
    brush_pounds_per_minute: float
    from_inches: float
    until_inches: float
    level_from_inches: float
    pruning_minutes_at_start: float
    stacking_minutes_at_start: float
    least_pruning_minutes: float
    reference_dose: float
    minutes_per_further_item: float
    inspection_minutes: float
    ground_setup_minutes: float
    climb_setup_minutes: float
    lift_setup_minutes: float
    line_clearance_setup_minutes: float
    ground_reach_m: float
    lift_reach_m: float


@dataclass(frozen=True)
class VisitLabour:
    """Labour of an array of visits.

    Attributes
    ----------
    minutes : ndarray of float64, shape (n,)
        Crew minutes at the tree: set-up, inspection, and the person minutes
        shared by the crew.
    setup_minutes : ndarray of float64, shape (n,)
        Crew minutes, inspection included.
    pruning_minutes, stacking_minutes : ndarray of float64, shape (n,)
        Person minutes.
    brush_kg : ndarray of float64, shape (n,)
    beyond_published : ndarray of bool, shape (n,)
        The trunk is thicker than the published slopes reach.
    """

    minutes: NDArray[np.float64]
    setup_minutes: NDArray[np.float64]
    pruning_minutes: NDArray[np.float64]
    stacking_minutes: NDArray[np.float64]
    brush_kg: NDArray[np.float64]
    beyond_published: NDArray[np.bool_]


def load_labour(*, folder: Path | None = None) -> Labour:
    """Load the table ``labour``.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Labour

    Raises
    ------
    SettingsError
        With one fault per item that is missing, unknown or given twice.
    """
    table = load_table("labour", LABOUR_COLUMNS, folder=folder)
    wanted = [field.name for field in fields(Labour)]
    given = list(table["item"])
    missing, unknown = set(wanted) - set(given), set(given) - set(wanted)
    twice = {name for name in given if given.count(name) > 1}
    faults = [
        Fault(f"item {name!r} {what}", "labour.csv", remedy)
        for names, what, remedy in (
            (missing, "is missing", "add it"),
            (unknown, "is not known", "remove it"),
            (twice, "stands twice", "keep one"),
        )
        for name in sorted(names)
    ]
    if faults:
        raise SettingsError(faults)
    values = table.set_index("item")["value"]
    labour = Labour(**{name: float(values[name]) for name in wanted})
    _check(labour)
    return labour


def _check(labour: Labour) -> None:
    rising = labour.from_inches < labour.until_inches <= labour.level_from_inches
    if not rising or labour.reference_dose == 0:
        what = "needs from_inches < until_inches <= level_from_inches and reference_dose > 0"
        raise SettingsError(Fault(what, "labour.csv", "correct the values"))


def visit_labour(
    dbh_cm: ArrayLike,
    dose: ArrayLike,
    items: ArrayLike,
    skill: pd.Categorical,
    *,
    labour: Labour,
    people_per_crew: int = 2,
) -> VisitLabour:
    """Estimate the labour of visits.

    Person minutes at the reference dose rise with trunk diameter and are
    scaled by the visit's dose; a visit without live wood to cut (dose 0) is
    an inspection with its further items only.

    Parameters
    ----------
    dbh_cm : array_like of float, shape (n,)
    dose : array_like of float, shape (n,)
        Share of live crown taken at the visit, 0 to 1.
    items : array_like of int, shape (n,)
        Number of work items of the visit.
    skill : Categorical, shape (n,)
        See :func:`skill_needed`.
    labour : Labour
    people_per_crew : int
        Person minutes are shared evenly among so many.

    Returns
    -------
    VisitLabour
    """
    inches = np.asarray(dbh_cm, dtype=np.float64) / CM_PER_INCH
    share = np.asarray(dose, dtype=np.float64) / labour.reference_dose
    further = np.maximum(np.asarray(items, dtype=np.float64) - 1, 0)
    beyond_start = np.clip(inches, labour.from_inches, labour.level_from_inches)
    beyond_start = beyond_start - labour.from_inches
    full_pruning = labour.pruning_minutes_at_start + labour.pruning_minutes_per_inch * beyond_start
    full_stacking = (
        labour.stacking_minutes_at_start + labour.stacking_minutes_per_inch * beyond_start
    )
    pruning = share * full_pruning
    least = np.where(share > 0, labour.least_pruning_minutes, 0.0)
    pruning = np.maximum(pruning, least) + further * labour.minutes_per_further_item
    stacking = share * full_stacking
    setup = _setup_minutes(skill, labour)
    return VisitLabour(
        minutes=setup + (pruning + stacking) / people_per_crew,
        setup_minutes=setup,
        pruning_minutes=pruning,
        stacking_minutes=stacking,
        brush_kg=pruning * (share > 0) * labour.brush_pounds_per_minute * KG_PER_POUND,
        beyond_published=np.asarray(inches > labour.until_inches, dtype=np.bool_),
    )


def _setup_minutes(skill: pd.Categorical, labour: Labour) -> NDArray[np.float64]:
    by_skill = np.empty(len(SKILLS))
    by_skill[GROUND] = labour.ground_setup_minutes
    by_skill[CLIMB] = labour.climb_setup_minutes
    by_skill[LIFT] = labour.lift_setup_minutes
    by_skill[LINE_CLEARANCE] = labour.line_clearance_setup_minutes
    codes = np.asarray(skill.set_categories(list(SKILLS)).codes)
    return np.asarray(labour.inspection_minutes + by_skill[codes], dtype=np.float64)


def skill_needed(
    work_height_m: ArrayLike,
    near_conductors: ArrayLike,
    *,
    truck_access: ArrayLike = True,
    labour: Labour,
) -> pd.Categorical:
    """Return the least skill that the work needs.

    From the ground where the work is in reach; else from a lift where a truck
    can stand below and the lift reaches; else climbing. Work near conductors
    that may be dangerous goes to crews qualified for line clearance.

    Parameters
    ----------
    work_height_m : array_like of float, shape (n,)
        Height of the highest cut; the tree's height where it is not known.
    near_conductors : array_like of bool, shape (n,)
        See :func:`forestcycle.practice.conductors.needs_line_clearance`.
    truck_access : array_like of bool, shape (n,) or ()
        Whether a lift can stand below.
    labour : Labour

    Returns
    -------
    Categorical, shape (n,)
        Of ``SKILLS``.
    """
    height = np.asarray(work_height_m, dtype=np.float64)
    reaches = np.asarray(truck_access, dtype=bool) & (height <= labour.lift_reach_m)
    codes = np.select(
        [np.asarray(near_conductors, dtype=bool), height <= labour.ground_reach_m, reaches],
        [LINE_CLEARANCE, GROUND, LIFT],
        CLIMB,
    )
    return from_codes(codes.astype(np.int8), SKILLS)
