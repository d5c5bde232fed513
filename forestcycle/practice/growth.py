"""How trees grow: diameter from age and back, height, crown diameter.

Where a region is named and has equations for the species, the tree's curve is
theirs; otherwise it is the mean over the regions that do. A species without
equations borrows the mean curve of its genus (of the species that grow to its
size), and a genus without any, the mean curve of its size class. The borrowing
is a modelling choice, and marked for every tree.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from forestcycle.errors import Fault, SettingsError, nearest_name
from forestcycle.practice.assessment import GROWTH_TABLES
from forestcycle.practice.growth_curves import (
    DIAMETER_STEP_CM,
    EQUATION_COLUMNS,
    Curve,
    curves_by_tree,
    mean_curve,
    palm_curve,
)
from forestcycle.practice.growth_forms import Floats
from forestcycle.practice.species import SIZES, SpeciesMatch, known_species
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.words import from_codes

SPECIES, GENUS, SIZE_CLASS = range(3)

PALM_COLUMNS = {
    "size": Column(words=SIZES),
    "height_m": Column("number", least=1, most=60),
    "crown_diameter_m": Column("number", least=0.5, most=20),
}


@dataclass(frozen=True)
class CurveChoice:
    """Which curve stands for each tree.

    Attributes
    ----------
    curve : ndarray of int64, shape (n,)
        Position in the model.
    table : Categorical, shape (n,)
        Where it came from: ``species``, ``genus``, ``size class``.
    of_region : ndarray of bool, shape (n,)
        Whether it rests on the region asked for; False too where none was.
    """

    curve: NDArray[np.int64]
    table: pd.Categorical
    of_region: NDArray[np.bool_]


class GrowthModel:
    """All curves, side by side, for lookups over arrays of trees.

    Parameters
    ----------
    curves : Sequence of Curve
    places : Mapping
        Position in ``curves`` and whether of the region asked for, by
        ``(SPECIES, name)``, ``(GENUS, name)``, ``(GENUS, name, size)`` or
        ``(SIZE_CLASS, size, foliage)``, and ``(SIZE_CLASS,)`` for all.
    """

    def __init__(
        self,
        curves: Sequence[Curve],
        places: Mapping[tuple[int | str, ...], tuple[int, bool]],
    ) -> None:
        self._places = places
        self._dbh = np.stack([curve.dbh_cm for curve in curves])
        self._age = np.stack([curve.age_years() for curve in curves])
        self._height = np.stack([curve.height_m for curve in curves])
        self._crown = np.stack([curve.crown_diameter_m for curve in curves])
        self._least_dbh = np.array([curve.least_dbh_cm for curve in curves])
        self._most_dbh = np.array([curve.most_dbh_cm for curve in curves])

    def choose(self, match: SpeciesMatch) -> CurveChoice:
        """Choose a curve for each tree.

        Parameters
        ----------
        match : SpeciesMatch

        Returns
        -------
        CurveChoice
        """
        rows = match.table[["scientific", "rank", "genus", "size", "foliage"]]
        found = [self._find(*(str(cell) for cell in row)) for row in rows.to_numpy()]
        level, place, of_region = (np.array(column) for column in zip(*found, strict=True))
        return CurveChoice(
            curve=place.astype(np.int64)[match.row],
            table=from_codes(level.astype(np.int8)[match.row], GROWTH_TABLES),
            of_region=of_region.astype(bool)[match.row],
        )

    def _find(
        self, scientific: str, rank: str, genus: str, size: str, foliage: str
    ) -> tuple[int, int, bool]:
        keys: list[tuple[int | str, ...]] = [(SIZE_CLASS, size, foliage), (SIZE_CLASS,)]
        if rank == "genus":
            keys.insert(0, (GENUS, genus))
        if rank == "species":
            keys[:0] = [(SPECIES, scientific), (GENUS, genus, size)]
        key = next(key for key in keys if key in self._places)
        place, of_region = self._places[key]
        return int(key[0]), place, of_region

    def dbh_cm(self, curve: NDArray[np.int64], age_years: ArrayLike) -> Floats:
        """Diameter at an age.

        Parameters
        ----------
        curve : ndarray of int64, shape (n,)
        age_years : array_like, shape (n,)

        Returns
        -------
        ndarray of float64, shape (n,)
            In cm; between whole years along a straight line.
        """
        return _look_up(self._dbh, curve, np.asarray(age_years, dtype=np.float64))

    def age_years(self, curve: NDArray[np.int64], dbh_cm: ArrayLike) -> Floats:
        """Age that the curve gives for a diameter, within its limits.

        Parameters
        ----------
        curve : ndarray of int64, shape (n,)
        dbh_cm : array_like, shape (n,)

        Returns
        -------
        ndarray of float64, shape (n,)
            In years. Real trees of one diameter differ widely in age.
        """
        return self._by_diameter(self._age, curve, dbh_cm)

    def height_m(self, curve: NDArray[np.int64], dbh_cm: ArrayLike) -> Floats:
        """Height at a diameter.

        Parameters
        ----------
        curve : ndarray of int64, shape (n,)
        dbh_cm : array_like, shape (n,)

        Returns
        -------
        ndarray of float64, shape (n,)
            In m.
        """
        return self._by_diameter(self._height, curve, dbh_cm)

    def crown_diameter_m(self, curve: NDArray[np.int64], dbh_cm: ArrayLike) -> Floats:
        """Crown diameter at a diameter of trunk.

        Parameters are those of :meth:`height_m`.

        Returns
        -------
        ndarray of float64, shape (n,)
            In m.
        """
        return self._by_diameter(self._crown, curve, dbh_cm)

    def dbh_after(self, curve: NDArray[np.int64], dbh_cm: ArrayLike, years: ArrayLike) -> Floats:
        """Diameter some years from now.

        A tree keeps its lead on the curve, or its lag: it grows by what the
        curve grows in the years that follow the age it implies.

        Parameters
        ----------
        curve : ndarray of int64, shape (n,)
        dbh_cm : array_like, shape (n,)
        years : array_like
            Not negative.

        Returns
        -------
        ndarray of float64, shape (n,)
            In cm, never less than today's.
        """
        dbh = np.asarray(dbh_cm, dtype=np.float64)
        age = self.age_years(curve, dbh)
        grown = self.dbh_cm(curve, age + np.asarray(years)) - self.dbh_cm(curve, age)
        return np.asarray(dbh + np.maximum(grown, 0.0), dtype=np.float64)

    def growth_cm_per_year(self, curve: NDArray[np.int64], dbh_cm: ArrayLike) -> Floats:
        """Diameter growth over the next year.

        Parameters
        ----------
        curve : ndarray of int64, shape (n,)
        dbh_cm : array_like, shape (n,)

        Returns
        -------
        ndarray of float64, shape (n,)
            In cm per year, not negative.
        """
        dbh = np.asarray(dbh_cm, dtype=np.float64)
        return self.dbh_after(curve, dbh, 1.0) - dbh

    def outside_limits(self, curve: NDArray[np.int64], dbh_cm: ArrayLike) -> NDArray[np.bool_]:
        """Whether a diameter lies outside the limits of the curve's equations.

        Parameters
        ----------
        curve : ndarray of int64, shape (n,)
        dbh_cm : array_like, shape (n,)

        Returns
        -------
        ndarray of bool, shape (n,)
            Where True, the tree is taken to stand at the limit.
        """
        dbh = np.asarray(dbh_cm, dtype=np.float64)
        outside = (dbh < self._least_dbh[curve]) | (dbh > self._most_dbh[curve])
        return np.asarray(outside, dtype=bool)

    def _by_diameter(self, grid: Floats, curve: NDArray[np.int64], dbh_cm: ArrayLike) -> Floats:
        return _look_up(grid, curve, np.asarray(dbh_cm, dtype=np.float64) / DIAMETER_STEP_CM)


def load_growth(*, region: str | None = None, folder: Path | None = None) -> GrowthModel:
    """Load the growth equations and make the curves.

    Parameters
    ----------
    region : str, optional
        Region whose equations go first; by default the mean over all regions.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    GrowthModel

    Raises
    ------
    SettingsError
        If the region is not in the table, or the table does not fit.
    """
    equations = load_table("growth_equations", EQUATION_COLUMNS, folder=folder)
    regions = sorted(equations["region"].unique())
    if region is not None and region not in regions:
        what = f"unknown growth region {region!r}"
        raise SettingsError(Fault(what, "practice.growth_region", nearest_name(region, regions)))
    by_tree = curves_by_tree(equations)
    species = known_species(folder=folder)
    palms = load_table("palms", PALM_COLUMNS, folder=folder)
    gathered = _gather(by_tree, species, region)
    for size, height_m, crown_m in palms[list(PALM_COLUMNS)].itertuples(index=False):
        gathered[(SIZE_CLASS, size, "palm")] = (palm_curve(height_m, crown_m), False)
    curves = [curve for curve, _ in gathered.values()]
    places = {key: (i, of_region) for i, (key, (_, of_region)) in enumerate(gathered.items())}
    return GrowthModel(curves, places)


def _gather(
    by_tree: dict[str, dict[str, Curve]], species: pd.DataFrame, region: str | None
) -> dict[tuple[int | str, ...], tuple[Curve, bool]]:
    """Make the curve of every species, genus and size class that has one."""
    own = {name: _of_region(curves, region) for name, curves in by_tree.items()}
    gathered: dict[tuple[int | str, ...], tuple[Curve, bool]] = {
        (SPECIES, name): curve for name, curve in own.items()
    }
    grown = species[species["scientific"].isin(own) & (species["rank"] != "size class")]
    groupings: dict[int, list[list[str]]] = {
        GENUS: [["genus"], ["genus", "size"]],
        SIZE_CLASS: [["size", "foliage"]],
    }
    for level, columns in ((level, c) for level, many in groupings.items() for c in many):
        for key, rows in grown.groupby(columns):
            members = [own[name] for name in rows["scientific"]]
            gathered[(level, *(str(part) for part in key))] = _mean_of_members(members)
    gathered[(SIZE_CLASS,)] = _mean_of_members(list(own.values()))
    return gathered


def _of_region(curves: dict[str, Curve], region: str | None) -> tuple[Curve, bool]:
    if region in curves:
        return curves[region], True
    return mean_curve(curves.values()), False


def _mean_of_members(members: Sequence[tuple[Curve, bool]]) -> tuple[Curve, bool]:
    """Return the mean over the members of the region, or over all if it has none."""
    of_region = [curve for curve, from_region in members if from_region]
    if of_region:
        return mean_curve(of_region), True
    return mean_curve(curve for curve, _ in members), False


def _look_up(grid: Floats, curve: NDArray[np.int64], position: Floats) -> Floats:
    """Interpolate along a row of ``grid`` at a fractional column, ends held."""
    last = grid.shape[1] - 1
    held = np.clip(position, 0.0, last)
    below = np.minimum(held.astype(np.int64), last - 1)
    share = held - below
    return np.asarray(grid[curve, below] * (1 - share) + grid[curve, below + 1] * share)
