"""Small invented inventories for the tests of this room."""

from datetime import date
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely

from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.schema import Inventory
from forestcycle.settings import CycleSettings

EAST, NORTH, CRS = 500_000.0, 5_000_000.0, 25832


def trees(count: int = 20, **columns: Any) -> gpd.GeoDataFrame:
    """Make trees in a row, all of them fine unless columns say otherwise."""
    table = {
        "id": [f"T{i}" for i in range(count)],
        "species": ["Acer rubrum"] * count,
        "dbh": [20.0 + i for i in range(count)],
    } | columns
    geometry = table.pop("geometry", shapely.points([(EAST + 9 * i, NORTH) for i in range(count)]))
    return gpd.GeoDataFrame(table, geometry=geometry, crs=CRS)


def settings(inventory: str = "city.gpkg", **parts: Any) -> CycleSettings:
    city = {"name": "Ashby", "inventory": inventory} | parts.pop("city", {})
    city = {"year_start": date(2027, 1, 1), "year_end": date(2027, 12, 31)} | city
    fields = {"tree_id": "id", "species": "species", "dbh": "dbh"} | parts.pop("fields", {})
    fields = {key: name for key, name in fields.items() if name is not None}
    return CycleSettings.model_validate(
        {
            "city": city,
            "layers": parts.pop("layers", {}),
            "trees": {
                "fields": fields,
                "units": parts.pop("units", {}),
                "values": parts.pop("values", {}),
            },
        }
    )


def write(folder: Path, layers: dict[str, pd.DataFrame], name: str = "city.gpkg") -> Path:
    path = folder / name
    for layer, table in layers.items():
        pyogrio.write_dataframe(table, path, layer=layer, append=False)
    return path


def opened(folder: Path, table: gpd.GeoDataFrame, **parts: Any) -> Inventory:
    known = parts.pop("known_species", ())
    ceilings = parts.pop("largest_dbh_cm", None)
    write(folder, {"trees": table})
    return open_inventory(settings(**parts), folder, known_species=known, largest_dbh_cm=ceilings)


def faults(inventory: Inventory) -> list[tuple[int, str, bool]]:
    lines = inventory.set_aside
    return list(zip(lines["row"], lines["fault"], lines["used"], strict=True))
