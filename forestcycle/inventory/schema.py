"""The inventory as every later stage sees it: tables, columns, words."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from forestcycle.inventory.database import Database

UNKNOWN = "unknown"

CONDITIONS = ("good", "fair", "poor", "dead", UNKNOWN)
CONDUCTORS = ("none", "low_voltage", "high_voltage", UNKNOWN)
TARGETS = ("street", "footway", "school", "playground", "park", UNKNOWN)
STATUSES = ("standing", "removed")

TEXT = "str"
FLOAT = np.dtype("float64")
DATE = np.dtype("datetime64[ns]")
TRUTH = np.dtype("bool")
WHOLE = np.dtype("int64")

Columns = Mapping[str, Any]

TREE_COLUMNS: Columns = {
    "tree_id": TEXT,
    "species": TEXT,
    "common_name": TEXT,
    "dbh_cm": FLOAT,
    "height_m": FLOAT,
    "crown_diameter_m": FLOAT,
    "condition": pd.CategoricalDtype(list(CONDITIONS)),
    "planted_on": DATE,
    "conductors": pd.CategoricalDtype(list(CONDUCTORS)),
    "site_width_m": FLOAT,
    "target": pd.CategoricalDtype(list(TARGETS)),
    "fund": TEXT,
    "street": TEXT,
    "address": TEXT,
    "ward": TEXT,
    "source_row": WHOLE,
}
"""Columns of ``Inventory.trees`` besides ``geometry``, with their dtypes."""

SET_ASIDE_COLUMNS: Columns = {
    "layer": TEXT,
    "row": WHOLE,
    "tree_id": TEXT,
    "field": TEXT,
    "value": TEXT,
    "fault": TEXT,
    "remedy": TEXT,
    "used": TRUTH,
}
"""Columns of ``Inventory.set_aside``: one row per row and fault."""

DEFECT_COLUMNS: Columns = {
    "tree_id": TEXT,
    "observed_on": DATE,
    "defect": TEXT,
    "measure": TEXT,
    "value": FLOAT,
    "unit": TEXT,
    "position": TEXT,
    "note": TEXT,
}
"""Columns of ``Inventory.defects``: one row per observation."""

VISIT_COLUMNS: Columns = {
    "tree_id": TEXT,
    "visited_on": DATE,
    "dose": FLOAT,
    "crew": TEXT,
    "minutes": FLOAT,
    "outcome": TEXT,
    "note": TEXT,
}
"""Columns of ``Inventory.visits``: one row per visit made."""
VISIT = ["tree_id", "visited_on", "crew"]
"""What makes two rows one visit."""

REQUEST_COLUMNS: Columns = {
    "tree_id": TEXT,
    "requested_on": DATE,
    "deadline": DATE,
    "mandatory": TRUTH,
    "note": TEXT,
}
"""Columns of ``Inventory.requests``: one row per request for a tree."""

STREET_COLUMNS: Columns = {"street": TEXT, "one_way": TRUTH, "speed_kmh": FLOAT}
"""Columns of ``Inventory.streets`` besides lines; ``speed_kmh`` is NaN where not known."""
WARD_COLUMNS: Columns = {"ward": TEXT}
"""Columns of ``Inventory.wards`` besides polygons."""
DEPOT_COLUMNS: Columns = {"depot": TEXT}
"""Columns of ``Inventory.depots`` besides points."""
PARK_COLUMNS: Columns = {"park": TEXT}
"""Columns of ``Inventory.parks`` besides polygons."""


def empty_table(columns: Columns) -> pd.DataFrame:
    """Make a table without rows.

    Parameters
    ----------
    columns : mapping of str to dtype
        One of the column lists of this module.

    Returns
    -------
    DataFrame
    """
    return pd.DataFrame({name: pd.Series(dtype=dtype) for name, dtype in columns.items()})


@dataclass(frozen=True)
class Inventory:
    """What stands where, checked and in our own units.

    Attributes
    ----------
    trees : GeoDataFrame
        Usable trees, index 0..n-1, with ``TREE_COLUMNS`` and 2-D points in a
        projected CRS with metre units.
    set_aside : DataFrame
        ``SET_ASIDE_COLUMNS``; ``used`` is True where only the field was set
        aside and the tree, or the record, stays in.
    defects, visits, requests : DataFrame
        ``DEFECT_COLUMNS``, ``VISIT_COLUMNS``, ``REQUEST_COLUMNS``; empty
        where the city has none. Every ``tree_id`` is one of ``trees``.
    streets, wards, depots, parks : GeoDataFrame or None
        ``STREET_COLUMNS`` with lines, ``WARD_COLUMNS`` with polygons,
        ``DEPOT_COLUMNS`` with points, ``PARK_COLUMNS`` with polygons, in the
        CRS of the trees.
    rows_read : int
        Rows in the tree layer, usable or not.
    source : Path or Database
        The file or database the trees came from.
    sha256 : str
        Of that file, in hexadecimal; of the tree rows of a database.
    """

    trees: gpd.GeoDataFrame
    set_aside: pd.DataFrame
    defects: pd.DataFrame
    visits: pd.DataFrame
    requests: pd.DataFrame
    streets: gpd.GeoDataFrame | None
    wards: gpd.GeoDataFrame | None
    depots: gpd.GeoDataFrame | None
    parks: gpd.GeoDataFrame | None
    rows_read: int
    source: Path | Database
    sha256: str
