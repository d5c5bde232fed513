"""A city of three trees, to spoil in one way at a time."""

from pathlib import Path

import geopandas as gpd
import pyogrio
from shapely import Point

SETTINGS = """
[city]
name = "Testford"
inventory = "trees.gpkg"
year_start = 2027-01-01
year_end = 2027-12-31

[trees.fields]
tree_id = "id"
species = "species"
dbh = "dbh"

[[crews]]
name = "One"
"""
EAST, NORTH = 500_000, 5_500_000


def trees(**changes) -> gpd.GeoDataFrame:
    columns = {
        "id": ["a", "b", "c"],
        "species": ["Acer rubrum", "Tilia cordata", "Quercus robur"],
        "dbh": [8.0, 12.0, 15.0],
        "geometry": [Point(EAST + 40 * i, NORTH) for i in range(3)],
    }
    return gpd.GeoDataFrame(columns | changes, geometry="geometry", crs="EPSG:32632")


def write_trees(folder: Path, layer: gpd.GeoDataFrame) -> None:
    (folder / "trees.gpkg").unlink(missing_ok=True)
    pyogrio.write_dataframe(layer, folder / "trees.gpkg", layer="trees", driver="GPKG")


def write_city(folder: Path) -> Path:
    write_trees(folder, trees())
    (folder / "cycle.toml").write_text(SETTINGS)
    return folder


def add_settings(city: Path, text: str) -> None:
    (city / "cycle.toml").write_text((city / "cycle.toml").read_text() + text)
