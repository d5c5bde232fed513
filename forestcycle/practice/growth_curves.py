"""Growth curves: what the equations say for one kind of tree, on a grid.

Equations hold within limits. Outside of them height and crown diameter stay
at the value of the limit, and diameter goes on growing at the rate of the last
year within. A curve never falls: where an equation does, it is held at its
peak.

Source of the equations: McPherson, van Doorn, Peper 2016, PSW-GTR-253 and
RDS-2016-0005. What happens outside limits, and means over regions, are
modelling choices.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.growth_forms import (
    COEFFICIENTS,
    FORMS,
    Floats,
    evaluate,
    restore_cut_digits,
)
from forestcycle.practice.tables import Column

AGES = np.arange(0.0, 301.0)
DIAMETER_STEP_CM = 0.5
DIAMETERS = np.arange(0.0, 400.0 + DIAMETER_STEP_CM, DIAMETER_STEP_CM)

DBH, HEIGHT, CROWN = "dbh_cm_from_age", "height_m_from_dbh", "crown_diameter_m_from_dbh"

EQUATION_COLUMNS = {
    "region": Column(),
    "species": Column(),
    "relation": Column(words=(DBH, HEIGHT, CROWN)),
    "form": Column(words=FORMS),
    **{letter: Column("number", may_be_empty=True) for letter in COEFFICIENTS},
    "least_x": Column("number", least=0, most=AGES[-1]),
    "most_x": Column("number", least=0, most=AGES[-1]),
    "least_value": Column("number"),
    "most_value": Column("number"),
}

Equation = Mapping[Hashable, Any]
"""A row of the table."""


@dataclass(frozen=True)
class Curve:
    """One kind of tree on the grids ``AGES`` and ``DIAMETERS``.

    Attributes
    ----------
    dbh_cm : ndarray, shape of ``AGES``
    height_m, crown_diameter_m : ndarray, shape of ``DIAMETERS``
    last_age : float
        Oldest age within the limits, in years.
    least_dbh_cm, most_dbh_cm : float
        Limits of diameter.
    """

    dbh_cm: Floats
    height_m: Floats
    crown_diameter_m: Floats
    last_age: float
    least_dbh_cm: float
    most_dbh_cm: float

    def age_years(self) -> Floats:
        """Invert the curve: the age at each of ``DIAMETERS``, within limits.

        Returns
        -------
        ndarray of float64, shape (len(DIAMETERS),)
        """
        within = self.last_age >= AGES
        dbh, ages = self.dbh_cm[within], AGES[within]
        rises = np.r_[True, np.diff(dbh) > 0]
        return np.asarray(np.interp(DIAMETERS, dbh[rises], ages[rises]), dtype=np.float64)


def curves_by_tree(equations: pd.DataFrame) -> dict[str, dict[str, Curve]]:
    """Make a curve for each species and region of the table.

    Parameters
    ----------
    equations : DataFrame
        With the columns of ``EQUATION_COLUMNS``.

    Returns
    -------
    dict of str to dict of str to Curve
        By species, then by region.

    Raises
    ------
    SettingsError
        If a species and region has not exactly one equation of each relation.
    """
    by_tree: dict[str, dict[str, Curve]] = {}
    faults = []
    rows_of: dict[tuple[str, str], list[Equation]] = {}
    for row in equations.to_dict("records"):  # plain rows: pandas takes ten times as long
        rows_of.setdefault((row["species"], row["region"]), []).append(row)
    for (species, region), rows in rows_of.items():
        relations = {row["relation"]: row for row in rows}
        if len(rows) != len(relations) or relations.keys() != {DBH, HEIGHT, CROWN}:
            what = f"{species}, {region}: needs one row for each of {DBH}, {HEIGHT}, {CROWN}"
            faults.append(Fault(what, "growth_equations.csv", "add or remove rows"))
            continue
        by_tree.setdefault(species, {})[region] = _curve(relations)
    if faults:
        raise SettingsError(faults)
    return by_tree


def _curve(relations: Mapping[str, Equation]) -> Curve:
    diameter = relations[DBH]
    dbh = _held(diameter, AGES)
    last = int(diameter["most_x"])
    yearly = dbh[last] - dbh[max(last - 1, 0)]
    beyond = np.maximum(AGES - last, 0.0) * yearly
    return Curve(
        dbh_cm=dbh + beyond,
        height_m=_held(relations[HEIGHT], DIAMETERS),
        crown_diameter_m=_held(relations[CROWN], DIAMETERS),
        last_age=float(last),
        least_dbh_cm=float(diameter["least_value"]),
        most_dbh_cm=float(diameter["most_value"]),
    )


def _held(row: Equation, x: Floats) -> Floats:
    """Return an equation on a grid, held within its limits and never falling."""
    form = str(row["form"])
    coefficients = np.array([row[letter] for letter in COEFFICIENTS], dtype=np.float64)
    most_x, most_value = float(row["most_x"]), float(row["most_value"])
    whole = restore_cut_digits(form, coefficients, most_x=most_x, most_value=most_value)
    values = evaluate(form, whole, np.clip(x, float(row["least_x"]), most_x))
    return np.maximum.accumulate(np.clip(values, float(row["least_value"]), most_value))


def mean_curve(curves: Iterable[Curve]) -> Curve:
    """Return the mean of some curves, within the mean of their limits.

    Parameters
    ----------
    curves : iterable of Curve
        At least one.

    Returns
    -------
    Curve
    """
    many = list(curves)
    return Curve(
        dbh_cm=_mean([curve.dbh_cm for curve in many]),
        height_m=_mean([curve.height_m for curve in many]),
        crown_diameter_m=_mean([curve.crown_diameter_m for curve in many]),
        last_age=float(np.mean([curve.last_age for curve in many])),
        least_dbh_cm=float(np.mean([curve.least_dbh_cm for curve in many])),
        most_dbh_cm=float(np.mean([curve.most_dbh_cm for curve in many])),
    )


def palm_curve(height_m: float, crown_diameter_m: float) -> Curve:
    """Return a curve without growth: a palm's trunk does not thicken with age.

    Parameters
    ----------
    height_m, crown_diameter_m : float

    Returns
    -------
    Curve
    """
    return Curve(
        dbh_cm=np.zeros_like(AGES),
        height_m=np.full_like(DIAMETERS, height_m),
        crown_diameter_m=np.full_like(DIAMETERS, crown_diameter_m),
        last_age=float(AGES[-1]),
        least_dbh_cm=0.0,
        most_dbh_cm=float(DIAMETERS[-1]),
    )


def _mean(grids: list[Floats]) -> Floats:
    return np.asarray(np.mean(grids, axis=0), dtype=np.float64)
