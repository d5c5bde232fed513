"""What kind of tree a name stands for: habit, mature size, foliage, groups.

A name is looked up as a species, else as its genus, else as unknown.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.tables import Column, load_table

RANKS = ("species", "genus", "size class")
HABITS = ("decurrent", "excurrent", "palm")
SIZES = ("small", "medium", "large")
FOLIAGES = ("deciduous broadleaf", "evergreen broadleaf", "conifer", "palm")
UNKNOWN = "unknown"
EVERY_TREE = "every tree"

SPECIES_COLUMNS = {
    "scientific": Column(),
    "rank": Column(words=RANKS),
    "genus": Column(may_be_empty=True),
    "common_name": Column(may_be_empty=True),
    "habit": Column(words=HABITS),
    "size": Column(words=SIZES),
    "foliage": Column(words=FOLIAGES),
    "also": Column(may_be_empty=True),
    "mature_dbh_cm": Column("number", least=1, most=500),
    "mature_dbh_basis": Column(words=("measured", "genus", "size class", "stated")),
}
GROUP_COLUMNS = {"species_group": Column(), "member": Column()}

AFTER_THE_NAME = re.compile(r"\s+(spp?\.?|cvs?\.?)$")
CULTIVAR = re.compile(r"\s*['‘\"].*$")
HYBRID_SIGN = re.compile(r"(^|\s)[×x]\s+")

ABSURD_FACTOR, LEAST_ABSURD_CM = 4.0, 100.0
"""Modelling choices: of 11,780 real street trees the stoutest has 2.2 times its mature diameter."""


@dataclass(frozen=True)
class SpeciesMatch:
    """Rows of the species table for an array of names.

    Attributes
    ----------
    table : DataFrame
        See :func:`known_species`.
    row : ndarray of int64, shape (n,)
        Row of ``table`` for each name.
    groups : DataFrame
        Columns ``species_group member``; see :meth:`rows_in_group`.
    """

    table: pd.DataFrame
    row: NDArray[np.int64]
    groups: pd.DataFrame

    def column(self, name: str) -> NDArray[Any]:
        """Return a column of the species table, one entry per tree.

        Parameters
        ----------
        name : str

        Returns
        -------
        ndarray, shape (n,)
        """
        return self.table[name].to_numpy()[self.row]

    def rows_in_group(self, group: str) -> NDArray[np.bool_]:
        """Return which rows of the species table belong to a group.

        Members are named by species or by genus; the group ``every tree``
        needs no members.

        Parameters
        ----------
        group : str
            Of the table ``species_groups``, or ``every tree``.

        Returns
        -------
        ndarray of bool, shape (len(table),)
        """
        if group == EVERY_TREE:
            return np.ones(len(self.table), dtype=bool)
        members = self.groups.loc[self.groups["species_group"] == group, "member"]
        of_group = self.table["scientific"].isin(members) | self.table["genus"].isin(members)
        return of_group.to_numpy(dtype=bool)


def known_species(*, folder: Path | None = None) -> pd.DataFrame:
    """Load the species table: species, then genera, then size classes.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    DataFrame
        With the columns of ``SPECIES_COLUMNS`` and ``source``.
    """
    return load_table("species", SPECIES_COLUMNS, folder=folder)


def largest_dbh_cm(*, folder: Path | None = None) -> dict[str, float]:
    """Diameter beyond which a figure is absurd, for kinds whose mature diameter was measured.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    dict of str to float
        Scientific name to centimetres: four times the mature diameter, and
        never less than a metre. Kinds with a merely stated mature diameter
        are left out; a giant sequoia is no mistake.
    """
    table = known_species(folder=folder)
    measured = table[table["mature_dbh_basis"] == "measured"]
    ceiling = np.maximum(ABSURD_FACTOR * measured["mature_dbh_cm"], LEAST_ABSURD_CM)
    return dict(zip(measured["scientific"], ceiling.astype(float), strict=True))


def match_species(
    names: "Sequence[str] | pd.Series[str]", *, folder: Path | None = None
) -> SpeciesMatch:
    """Find each name in the species table.

    Case, cultivar names, the hybrid sign and ``spp.`` do not matter. A species
    that the table does not have is matched by its genus; a genus that it does
    not have, by ``unknown``.

    Parameters
    ----------
    names : sequence of str, shape (n,)
        Scientific names, such as ``Acer rubrum`` or ``Acer``.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    SpeciesMatch

    Raises
    ------
    SettingsError
        If a table of the city does not fit, or has no row ``unknown``.
    """
    table = known_species(folder=folder)
    groups = load_table("species_groups", GROUP_COLUMNS, folder=folder)
    keys = _keys(table)
    if UNKNOWN not in keys:
        where = "species.csv" if folder is None else str(folder / "species.csv")
        remedy = "add it, for trees of a kind that the table does not have"
        raise SettingsError(Fault(f"no row for {UNKNOWN!r}", where, remedy))
    codes, distinct = pd.factorize(np.asarray(names, dtype=object), use_na_sentinel=False)
    rows = np.array([_row(str(name), keys) for name in distinct], dtype=np.int64)
    return SpeciesMatch(table, rows[codes] if len(codes) else np.empty(0, np.int64), groups)


def _keys(table: pd.DataFrame) -> dict[str, int]:
    keys: dict[str, int] = {}
    for row, (scientific, also) in enumerate(zip(table["scientific"], table["also"], strict=True)):
        for name in (scientific, *also.split(";")):
            keys.setdefault(_plain(name), row)
    return keys


def _row(name: str, keys: dict[str, int]) -> int:
    whole = _plain(name)
    without_cultivar = CULTIVAR.sub("", whole)
    two_words = " ".join(without_cultivar.split()[:2])
    genus = two_words.partition(" ")[0]
    for key in (whole, without_cultivar, two_words, genus):
        if key and key in keys:
            return keys[key]
    return keys[UNKNOWN]


@lru_cache(maxsize=16384)
def _plain(name: str) -> str:
    name = AFTER_THE_NAME.sub("", name.strip().lower())
    return " ".join(HYBRID_SIGN.sub(" ", name).split())
