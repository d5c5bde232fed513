"""Inventories of any size from a seed, with records as untidy as real ones."""

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from forestcycle.inventory.schema import (
    CONDITIONS,
    CONDUCTORS,
    DEFECT_COLUMNS,
    REQUEST_COLUMNS,
    SET_ASIDE_COLUMNS,
    TARGETS,
    TREE_COLUMNS,
    VISIT_COLUMNS,
    Inventory,
    empty_table,
)
from forestcycle.practice.catalogue import load_catalogue

SPECIES = (
    "Acer rubrum", "Quercus rubra", "Acer platanoides", "Pyrus calleryana", "Tilia cordata",
    "Ulmus americana", "Washingtonia robusta", "Prunus", "unknown",
)  # fmt: skip
ON = np.datetime64("2027-01-01")


def random_city(trees: int, seed: int = 0) -> Inventory:
    """Make a city: a tenth of the trees with defects on record, 40 % with visits."""
    random = np.random.default_rng(seed)
    ids = np.array([f"T{row}" for row in range(trees)], dtype=object)
    planted = ON - random.integers(0, 9000, trees).astype("timedelta64[D]")
    table = pd.DataFrame(
        {
            "tree_id": ids,
            "species": random.choice(SPECIES, trees),
            "common_name": "",
            "dbh_cm": np.clip(random.gamma(2, 15, trees), 1, 200).round(1),
            "height_m": np.where(random.random(trees) < 0.3, random.uniform(2, 30, trees), np.nan),
            "crown_diameter_m": np.nan,
            "condition": random.choice(CONDITIONS, trees, p=[0.5, 0.3, 0.1, 0.02, 0.08]),
            "planted_on": np.where(random.random(trees) < 0.2, planted, np.datetime64("NaT")),
            "conductors": random.choice(CONDUCTORS, trees),
            "site_width_m": 2.0,
            "target": random.choice(TARGETS, trees),
            **dict.fromkeys(("fund", "street", "address", "ward"), ""),
            "source_row": np.arange(trees),
        }
    )[list(TREE_COLUMNS)].astype(dict(TREE_COLUMNS))
    x, y = random.uniform(0, 1e4, (2, trees))
    return Inventory(
        trees=gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(x, y), crs=25832),
        set_aside=empty_table(SET_ASIDE_COLUMNS),
        defects=_defects(random, ids),
        visits=_visits(random, ids),
        requests=_requests(random, ids),
        streets=None,
        wards=None,
        depots=None,
        parks=None,
        rows_read=trees,
        source=Path("city.gpkg"),
        sha256="",
    )


def _days_back(random: np.random.Generator, count: int, most: int) -> "np.ndarray":
    return ON - random.integers(-20, most, count).astype("timedelta64[D]")


def _defects(random: np.random.Generator, ids: "np.ndarray") -> pd.DataFrame:
    count = max(len(ids) // 10, 1)
    catalogue = load_catalogue()
    curves = catalogue.severity.drop_duplicates(["defect", "measure"])
    row = random.integers(0, len(curves), count)
    top = {"ratio": 1.2, "count": 8.0, "cm": 40.0, "m": 3.0}
    unit = curves["unit"].to_numpy(dtype=object)[row]
    value = random.uniform(-0.02, 1, count) * np.array([top[word] for word in unit])
    worded = random.random(count) < 0.4
    measure = curves["measure"].to_numpy(dtype=object)[row]
    words = random.choice(["minor", "moderate", "severe"], count)
    return pd.DataFrame(
        {
            "tree_id": ids[random.integers(0, len(ids), count)],
            "observed_on": _days_back(random, count, 1500),
            "defect": curves["defect"].to_numpy(dtype=object)[row],
            "measure": np.where(worded, words, measure),
            "value": np.where(worded, np.nan, value),
            "unit": np.where(worded, "", unit),
            "position": random.choice(["", "north", "east limb"], count),
            "note": "",
        }
    ).astype(dict(DEFECT_COLUMNS))


def _visits(random: np.random.Generator, ids: "np.ndarray") -> pd.DataFrame:
    count = int(0.4 * len(ids))
    dose = random.uniform(-0.01, 0.25, count)
    return pd.DataFrame(
        {
            "tree_id": ids[random.integers(0, len(ids), count)],
            "visited_on": _days_back(random, count, 4000),
            "dose": np.where(random.random(count) < 0.3, np.nan, dose),
            "crew": "",
            "minutes": np.nan,
            "outcome": random.choice(["done", "partly done", "skipped", ""], count),
            "note": "",
        }
    ).astype(dict(VISIT_COLUMNS))


def _requests(random: np.random.Generator, ids: "np.ndarray") -> pd.DataFrame:
    count = len(ids) // 50
    return pd.DataFrame(
        {
            "tree_id": ids[random.integers(0, len(ids), count)],
            "requested_on": _days_back(random, count, 400),
            "deadline": ON + random.integers(30, 300, count).astype("timedelta64[D]"),
            "mandatory": random.random(count) < 0.2,
            "note": "",
        }
    ).astype(dict(REQUEST_COLUMNS))
