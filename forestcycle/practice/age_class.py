"""Age class: how far a tree has come towards the mature size of its kind.

Diameter relative to the species' mature diameter decides, with bounds from the
table ``age_classes``. Where a planting date is known, a tree planted within
the table's ``young_years`` counts as young, unless its size speaks against the
date; one planted within ``newly_planted_years`` is marked as well.

The bounds are modelling choices; see the table's sources.
"""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.words import from_codes

YOUNG, SEMI_MATURE, MATURE, OLD = range(len(AGE_CLASSES))
DAYS_PER_YEAR = 365.25

BOUND_COLUMNS = {
    "age_class": Column(words=AGE_CLASSES),
    "from_relative_diameter": Column("number", least=0, most=10),
}
DATE_COLUMNS = {
    "span": Column(words=("newly_planted_years", "young_years"), once=True),
    "years": Column("number", least=0, most=50),
}


@dataclass(frozen=True)
class AgeClasses:
    """Age classes of an array of trees.

    Attributes
    ----------
    age_class : Categorical, ordered, shape (n,)
        ``young``, ``semi-mature``, ``mature``, ``old``.
    relative_diameter : ndarray of float64, shape (n,)
        Diameter over the mature diameter of the species.
    years_since_planting : ndarray of float64, shape (n,)
        NaN where the date is not known or lies in the future.
    newly_planted : ndarray of bool, shape (n,)
    by_date : ndarray of bool, shape (n,)
        Young by its planting date where its diameter alone says otherwise.
    """

    age_class: pd.Categorical
    relative_diameter: NDArray[np.float64]
    years_since_planting: NDArray[np.float64]
    newly_planted: NDArray[np.bool_]
    by_date: NDArray[np.bool_]


def age_classes(
    dbh_cm: ArrayLike,
    mature_dbh_cm: ArrayLike,
    *,
    planted_on: ArrayLike | None = None,
    on: date | None = None,
    folder: Path | None = None,
) -> AgeClasses:
    """Classify trees by age.

    Parameters
    ----------
    dbh_cm, mature_dbh_cm : array_like of float, shape (n,)
        Trunk diameter, and the mature diameter of the species, in cm.
    planted_on : array_like of datetime64, shape (n,), optional
        NaT where not known.
    on : date, optional
        The day of the assessment; needed with ``planted_on``.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    AgeClasses

    Raises
    ------
    SettingsError
        If the table of bounds does not name every class once, in rising order.
    """
    bounds = _bounds(folder)
    dates = load_table("age_class_dates", DATE_COLUMNS, folder=folder)
    years = dates.set_index("span")["years"]
    dbh = np.asarray(dbh_cm, dtype=np.float64)
    relative = np.asarray(dbh / np.asarray(mature_dbh_cm, dtype=np.float64), dtype=np.float64)
    code = np.searchsorted(bounds[1:], relative, side="right").astype(np.int8)
    since = _years_since(planted_on, on, len(dbh))
    believable = np.isfinite(since) & (code < MATURE)
    by_date = believable & (since <= float(years["young_years"])) & (code > YOUNG)
    code[by_date] = YOUNG
    return AgeClasses(
        age_class=from_codes(code, AGE_CLASSES, ordered=True),
        relative_diameter=relative,
        years_since_planting=since,
        newly_planted=believable & (since <= float(years["newly_planted_years"])),
        by_date=by_date,
    )


def _bounds(folder: Path | None) -> NDArray[np.float64]:
    table = load_table("age_classes", BOUND_COLUMNS, folder=folder)
    bounds = table["from_relative_diameter"].to_numpy(dtype=np.float64)
    in_order = list(table["age_class"]) == list(AGE_CLASSES) and (np.diff(bounds) > 0).all()
    if not in_order:
        what = f"must name {', '.join(AGE_CLASSES)} in this order, with rising bounds"
        raise SettingsError(Fault(what, "age_classes.csv", "correct the table"))
    return bounds


def _years_since(planted_on: ArrayLike | None, on: date | None, trees: int) -> NDArray[np.float64]:
    if planted_on is None or on is None:
        return np.full(trees, np.nan)
    planted = np.asarray(planted_on, dtype="datetime64[D]")
    days = (np.datetime64(on, "D") - planted).astype(np.float64)
    days[np.isnat(planted) | (days < 0)] = np.nan
    return np.asarray(days / DAYS_PER_YEAR, dtype=np.float64)
