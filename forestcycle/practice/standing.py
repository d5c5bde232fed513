"""What each tree is: kind, size, pace of growth, age class and state."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.inventory.schema import Inventory
from forestcycle.practice.age_class import AgeClasses, age_classes
from forestcycle.practice.catalogue import FloatArray, IntArray
from forestcycle.practice.growth import CurveChoice, GrowthModel, load_growth
from forestcycle.practice.species import SpeciesMatch, match_species
from forestcycle.practice.state import states


@dataclass(frozen=True)
class Standing:
    """Facts of every tree on the day of the assessment, one entry per tree.

    Attributes
    ----------
    tree_ids : Index
    dbh_cm, mature_dbh_cm : ndarray of float64
    height_m, crown_diameter_m : ndarray of float64
        Measured, else from the growth tables.
    growth_cm_per_year : ndarray of float64
    match : SpeciesMatch
    growth : GrowthModel
    curves : CurveChoice
    ages : AgeClasses
    age_class, state : ndarray of int64
        Positions in ``AGE_CLASSES`` and ``STATES``.
    planted_on : ndarray of datetime64[ns]
    dead : ndarray of bool
    """

    tree_ids: pd.Index
    dbh_cm: FloatArray
    mature_dbh_cm: FloatArray
    height_m: FloatArray
    crown_diameter_m: FloatArray
    growth_cm_per_year: FloatArray
    match: SpeciesMatch
    growth: GrowthModel
    curves: CurveChoice
    ages: AgeClasses
    age_class: IntArray
    state: IntArray
    planted_on: npt.NDArray[np.datetime64]
    dead: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.dbh_cm)

    def dbh_after(self, years: float) -> FloatArray:
        """Return the diameters after some years; trunks never shrink.

        Parameters
        ----------
        years : float

        Returns
        -------
        (n,) float64
            In cm.
        """
        return self.growth.dbh_after(self.curves.curve, self.dbh_cm, years)


def stand(
    inventory: Inventory, *, region: str | None, on: date, folder: Path | None = None
) -> Standing:
    """Work out what each tree is.

    Parameters
    ----------
    inventory : Inventory
    region : str or None
        Growth region.
    on : date
        Day of the assessment.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Standing
    """
    trees = inventory.trees
    dbh_cm = trees["dbh_cm"].to_numpy(dtype="float64")
    planted_on = trees["planted_on"].to_numpy(dtype="datetime64[ns]")
    match = match_species(trees["species"], folder=folder)
    growth = load_growth(region=region, folder=folder)
    curves = growth.choose(match)
    mature_dbh_cm = match.column("mature_dbh_cm").astype("float64")
    ages = age_classes(dbh_cm, mature_dbh_cm, planted_on=planted_on, on=on, folder=folder)
    return Standing(
        tree_ids=pd.Index(trees["tree_id"]),
        dbh_cm=dbh_cm,
        mature_dbh_cm=mature_dbh_cm,
        height_m=_filled(trees["height_m"], growth.height_m(curves.curve, dbh_cm)),
        crown_diameter_m=_filled(
            trees["crown_diameter_m"], growth.crown_diameter_m(curves.curve, dbh_cm)
        ),
        growth_cm_per_year=growth.growth_cm_per_year(curves.curve, dbh_cm),
        match=match,
        growth=growth,
        curves=curves,
        ages=ages,
        age_class=np.asarray(ages.age_class.codes, dtype=np.int64),
        state=states(trees["condition"], ages.newly_planted),
        planted_on=planted_on,
        dead=(trees["condition"] == "dead").to_numpy(dtype=bool),
    )


def _filled(measured: "pd.Series[float]", from_tables: FloatArray) -> FloatArray:
    values = measured.to_numpy(dtype="float64")
    return np.where(np.isnan(values), from_tables, values)
