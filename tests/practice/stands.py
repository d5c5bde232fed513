"""Small invented stands of trees for the tests of this room."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from forestcycle.inventory.schema import (
    DEFECT_COLUMNS,
    REQUEST_COLUMNS,
    SET_ASIDE_COLUMNS,
    TREE_COLUMNS,
    VISIT_COLUMNS,
    Columns,
    Inventory,
    empty_table,
)

ON, YEAR_END = date(2027, 1, 1), date(2027, 12, 31)
USUAL_TREE: dict[str, Any] = {
    "species": "Quercus rubra",
    "common_name": "",
    "dbh_cm": 10.0,
    "height_m": np.nan,
    "crown_diameter_m": np.nan,
    "condition": "good",
    "planted_on": pd.NaT,
    "conductors": "none",
    "site_width_m": 2.0,
    "target": "footway",
    "fund": "",
    "street": "",
    "address": "",
    "ward": "",
}


def stand_of(
    trees: Sequence[dict[str, Any]],
    *,
    defects: Sequence[dict[str, Any]] = (),
    visits: Sequence[dict[str, Any]] = (),
    requests: Sequence[dict[str, Any]] = (),
) -> Inventory:
    """Make an inventory; what a tree or record does not say is as usual."""
    rows = [
        {"tree_id": f"T{row}", "source_row": row} | USUAL_TREE | tree
        for row, tree in enumerate(trees)
    ]
    table = pd.DataFrame(rows)[list(TREE_COLUMNS)].astype(dict(TREE_COLUMNS))
    x = np.arange(len(rows), dtype=float)
    return Inventory(
        trees=gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(x, x), crs=25832),
        set_aside=empty_table(SET_ASIDE_COLUMNS),
        defects=records(defects, DEFECT_COLUMNS),
        visits=records(visits, VISIT_COLUMNS),
        requests=records(requests, REQUEST_COLUMNS),
        streets=None,
        wards=None,
        depots=None,
        parks=None,
        rows_read=len(rows),
        source=Path("city.gpkg"),
        sha256="",
    )


def records(rows: Sequence[dict[str, Any]], columns: Columns) -> pd.DataFrame:
    """Make a table of records; ``measured=(measure, value, unit)`` is short for three columns."""
    usual = {
        "tree_id": "T0",
        "observed_on": "2026-06-01",
        "unit": "",
        "position": "",
        "note": "",
        "measure": "",
        "outcome": "done",
        "crew": "",
        "mandatory": False,
    }
    filled = []
    for row in rows:
        measured = dict(zip(("measure", "value", "unit"), row.get("measured", ()), strict=False))
        filled.append(usual | measured | {k: v for k, v in row.items() if k != "measured"})
    if not filled:
        return empty_table(columns)
    table = pd.DataFrame(filled).reindex(columns=list(columns))
    return table.astype(dict(columns))
