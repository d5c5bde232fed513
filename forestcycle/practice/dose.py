"""Dose: the share of live crown a visit may take, usually takes, and took.

Published limits disagree, so each is a named table; which one is in force is
a setting. A limit is a ceiling and not a target: the usual visit stops well
short of it.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.errors import Fault, SettingsError, nearest_name
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.catalogue import SHARE, FloatArray, IntArray
from forestcycle.practice.state import STATES, STRESSED
from forestcycle.practice.tables import Column, load_table

STAND_IN = "cautious"
AGE_WORDS = (*AGE_CLASSES, "any")
STATE_WORDS = (*STATES, "healthy", "any")
LIMIT_COLUMNS = {
    "table": Column(),
    "age_class": Column(words=AGE_WORDS),
    "state": Column(words=STATE_WORDS),
    "from_year": Column("number", may_be_empty=True, least=0),
    "to_year": Column("number", may_be_empty=True, least=0),
    "limit": SHARE,
}
USUAL_COLUMNS = {
    "age_class": Column(words=AGE_WORDS),
    "state": Column(words=STATE_WORDS),
    "dose": SHARE,
}


@dataclass(frozen=True)
class DoseLimits:
    """Limits of each tree and the row of the table that gave them.

    Attributes
    ----------
    limit : ndarray of float64
    rule : ndarray of int64
        Row of ``table``.
    table : DataFrame
        ``table age_class state from_year to_year limit source``.
    """

    limit: FloatArray
    rule: IntArray
    table: pd.DataFrame

    def source(self, tree: int) -> str:
        """Return the table and source of one tree's limit.

        Parameters
        ----------
        tree : int
            Position in the inventory.

        Returns
        -------
        str
        """
        row = self.table.iloc[self.rule[tree]]
        return f"{row['table']}: {row['source']}"


def dose_limits(
    name: str,
    age_class: IntArray,
    state: IntArray,
    years_since_planting: FloatArray,
    *,
    folder: Path | None = None,
) -> DoseLimits:
    """Look up each tree's dose limit.

    Where the named table is silent (UF/IFAS after year 6, say) the cautious
    one stands in, and the rule says so.

    Parameters
    ----------
    name : str
        Table in ``dose_limits.csv``.
    age_class, state : ndarray of int64
        Positions in ``AGE_CLASSES`` and ``STATES``.
    years_since_planting : ndarray of float64
        NaN where not known.
    folder : Path, optional

    Returns
    -------
    DoseLimits

    Raises
    ------
    SettingsError
        Where there is no such table, or no row covers an age class.
    """
    table = load_table("dose_limits", LIMIT_COLUMNS, folder=folder)
    names = list(dict.fromkeys(table["table"]))
    if name not in names:
        what = f"no dose limits named {name!r}"
        raise SettingsError(Fault(what, "practice.dose_limits", nearest_name(name, names)))
    rule = np.full(len(age_class), -1, dtype=np.int64)
    for source in dict.fromkeys((STAND_IN, name)):
        for row in np.flatnonzero(table["table"] == source):
            line = table.iloc[row]
            fits = _fits(line, age_class, state)
            if np.isfinite(line["from_year"]):
                fits &= years_since_planting >= line["from_year"]
            if np.isfinite(line["to_year"]):
                fits &= years_since_planting < line["to_year"]
            rule[fits] = row
    if (rule < 0).any():
        missing = AGE_CLASSES[int(age_class[np.argmin(rule)])]
        raise SettingsError(
            Fault(f"no dose limit for {missing} trees", "dose_limits.csv", "add a row")
        )
    return DoseLimits(table["limit"].to_numpy()[rule], rule, table)


def usual_doses(
    age_class: IntArray, state: IntArray, limit: FloatArray, *, folder: Path | None = None
) -> FloatArray:
    """Look up the dose at which a usual visit stops.

    Parameters
    ----------
    age_class, state : ndarray of int64
    limit : ndarray of float64
        The usual dose never passes it.
    folder : Path, optional

    Returns
    -------
    ndarray of float64
    """
    table = load_table("usual_doses", USUAL_COLUMNS, folder=folder)
    by_class = np.zeros((len(AGE_CLASSES), len(STATES)))
    ages, kinds = np.indices(by_class.shape)
    for _, line in table.iterrows():
        by_class[_fits(line, ages, kinds)] = line["dose"]
    unset = by_class == 0
    sound = np.broadcast_to(by_class[:, [1]], by_class.shape)
    by_class = np.where(unset & (kinds != STRESSED), sound, by_class)
    return np.minimum(by_class[age_class, state], limit)


def _fits(line: "pd.Series[Any]", age_class: IntArray, state: IntArray) -> npt.NDArray[np.bool_]:
    age_word, state_word = str(line["age_class"]), str(line["state"])
    fits = np.ones(age_class.shape, dtype=np.bool_)
    if age_word != "any":
        fits &= age_class == AGE_CLASSES.index(age_word)
    if state_word == "healthy":
        fits &= state != STRESSED
    elif state_word != "any":
        fits &= state == STATES.index(state_word)
    return fits


def dose_from_branches(removed_cm: FloatArray, all_cm: FloatArray) -> float:
    """Estimate the dose from diameters of primary branches.

    Leaf mass was linear in the basal area of primary branches of young trees
    (Grabosky, Gilman and Harchick 2007, Urban Forestry and Urban Greening
    6:159-167); with no intercept, dose = sum(d^2 removed) / sum(d^2 all).
    Valid for young trees only.

    Parameters
    ----------
    removed_cm : ndarray of float64
        Diameters of the primary branches taken.
    all_cm : ndarray of float64
        Diameters of all primary branches, the taken ones among them.

    Returns
    -------
    float
        0..1.

    Raises
    ------
    ValueError
        Where a diameter is not above 0, or more is removed than there was.
    """
    removed, every = np.asarray(removed_cm, float), np.asarray(all_cm, float)
    if every.size == 0 or not (np.all(every > 0) and np.all(removed > 0)):
        raise ValueError("branch diameters must lie above 0 cm")
    share = float(np.sum(removed**2) / np.sum(every**2))
    if share > 1 + 1e-9:
        raise ValueError(f"more branches removed than there are: {share:.2f} of the whole")
    return min(share, 1.0)


def dose_from_brush(
    brush_m3: FloatArray, crown_diameter_m: FloatArray, live_crown_m: FloatArray, *, packing: float
) -> FloatArray:
    """Estimate the dose after the fact, from the brush on the truck.

    The crown is taken as half an ellipsoid of revolution with its leaves
    spread evenly. ``packing`` says how many cubic metres of crown lie in one
    cubic metre of brush: no published figure was found, so a city measures
    its own by loading a few crowns of known dose.

    Parameters
    ----------
    brush_m3 : ndarray of float64
        Loose brush, before chipping.
    crown_diameter_m, live_crown_m : ndarray of float64
        Width and height of the live crown before the visit.
    packing : float

    Returns
    -------
    ndarray of float64
        0..1.
    """
    crown_m3 = np.pi / 6 * crown_diameter_m**2 * live_crown_m
    share: FloatArray = np.clip(brush_m3 * packing / crown_m3, 0, 1)
    return share
