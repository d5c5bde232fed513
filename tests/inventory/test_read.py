"""Any vector file that GDAL opens, and tables of delimited text; bad files say why."""

import gzip
import hashlib
import sqlite3
import zipfile
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely

from forestcycle.errors import InventoryError
from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.read import layer_info, list_layers, read_layer
from forestcycle.inventory.source import Source, locate, sha256_of
from tests.inventory.cities import CRS, settings, trees, write


@pytest.mark.parametrize("ending", ["gpkg", "shp", "geojson", "fgb", "geojson.gz", "shp.zip"])
def test_formats_give_the_same_trees(tmp_path: Path, ending: str) -> None:
    """GDAL's own writers make the files."""
    table = trees().to_crs(4326)
    name = f"city.{ending}"
    if ending == "geojson.gz":
        pyogrio.write_dataframe(table, tmp_path / "city.geojson")
        (tmp_path / name).write_bytes(gzip.compress((tmp_path / "city.geojson").read_bytes()))
    elif ending == "shp.zip":
        pyogrio.write_dataframe(table, tmp_path / "city.shp")
        with zipfile.ZipFile(tmp_path / name, "w") as archive:
            for part in tmp_path.glob("city.*"):
                if part.suffix != ".zip":
                    archive.write(part, f"folder/{part.name}")
    else:
        pyogrio.write_dataframe(table, tmp_path / name)
    inventory = open_inventory(settings(name), tmp_path)
    assert sorted(inventory.trees["tree_id"]) == sorted(table["id"])
    assert inventory.trees.crs == "EPSG:32632"
    expected = trees().to_crs(32632).set_index("id").geometry
    found = inventory.trees.set_index("tree_id").geometry
    assert found.distance(expected.loc[found.index]).max() < 0.001


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_delimited_text(tmp_path: Path, encoding: str, packed: bool) -> None:  # noqa: FBT001
    lines = "id;Straße;dbh;x;y\n007;Eschenweg;12,5;9,01;45,1\n8;Ölberg;20;9,02;45,2\n"
    content = lines.encode(encoding)
    name = "city.csv.gz" if packed else "city.csv"
    (tmp_path / name).write_bytes(gzip.compress(content) if packed else content)
    chosen = settings(
        name, city={"source_crs": "EPSG:4326"},
        fields={"species": None, "street": "Straße", "longitude": "x", "latitude": "y"},
    )  # fmt: skip
    inventory = open_inventory(chosen, tmp_path)
    assert inventory.trees["tree_id"].tolist() == ["007", "8"]
    assert inventory.trees["dbh_cm"].tolist() == [12.5, 20.0]
    assert inventory.trees["street"].tolist() == ["Eschenweg", "Ölberg"]


def test_a_missing_file_names_those_there(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees()})
    with pytest.raises(InventoryError, match=r"no such file -> files there: city.gpkg"):
        open_inventory(settings("town.gpkg"), tmp_path)


def test_a_name_that_no_file_can_have_is_missing(tmp_path: Path) -> None:
    with pytest.raises(InventoryError, match="no such file"):
        open_inventory(settings("9" * 400), tmp_path)


def test_a_missing_layer_names_those_there(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees(), "old trees": trees()})
    with pytest.raises(
        InventoryError, match=r"no layer 'shrubs' -> layers there: trees, old trees"
    ):
        open_inventory(settings(layers={"trees": "shrubs"}), tmp_path)


def test_a_layer_without_rows(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees().iloc[:0]})
    with pytest.raises(InventoryError, match="holds no rows"):
        open_inventory(settings(), tmp_path)


def test_a_layer_of_lines_has_no_trees(tmp_path: Path) -> None:
    lines = gpd.GeoDataFrame(
        {"id": ["a"], "species": ["x"], "dbh": [1.0]},
        geometry=[shapely.LineString([(0, 0), (1, 1)])],
        crs=CRS,
    )
    write(tmp_path, {"streets": lines})
    with pytest.raises(InventoryError, match="holds no points but LineStrings"):
        open_inventory(settings(), tmp_path)


def test_a_file_without_crs(tmp_path: Path) -> None:
    trees().to_file(tmp_path / "city.shp")
    (tmp_path / "city.prj").unlink()
    with pytest.raises(InventoryError, match=r"set city\.source_crs"):
        open_inventory(settings("city.shp"), tmp_path)
    inventory = open_inventory(settings("city.shp", city={"source_crs": "EPSG:25832"}), tmp_path)
    assert inventory.trees.crs == "EPSG:25832"


def test_coordinates_outside_the_crs(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees().set_crs(4326, allow_override=True)})
    with pytest.raises(InventoryError, match=r"20 coordinates, such as 500000 5000000, cannot be"):
        open_inventory(settings(), tmp_path)


def test_all_missing_fields_are_reported_at_once(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees()})
    with pytest.raises(InventoryError) as caught:
        open_inventory(settings(fields={"height": "tall", "ward": "quarter"}), tmp_path)
    assert [fault.what for fault in caught.value.faults] == [
        "no field 'tall', which trees.fields.height names",
        "no field 'quarter', which trees.fields.ward names",
    ]


def test_a_file_in_use_is_refused(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees()})
    (tmp_path / "city.gpkg-wal").write_bytes(b"changes")
    with pytest.raises(InventoryError, match="another program has it open"):
        open_inventory(settings(), tmp_path)


@pytest.mark.parametrize("journal_mode", ["delete", "wal"])
def test_reading_changes_nothing(tmp_path: Path, journal_mode: str) -> None:
    path = write(tmp_path, {"trees": trees()})
    database = sqlite3.connect(path)
    database.execute(f"PRAGMA journal_mode={journal_mode}")
    database.close()
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    assert open_inventory(settings(), tmp_path).sha256 == before
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.gpkg", b"no database"),
        ("a.csv", b""),
        ("a.csv", b"id,species,dbh\n1,x\n2,x,3,4,5\n"),
        ("a.csv.gz", b"not packed"),
        ("a.zip", b"not packed"),
        ("a.geojson", b'{"type": "FeatureCollection", "features": ['),
        ("a.shp", b"\0" * 200),
    ],
)
def test_broken_files_are_a_clear_fault(tmp_path: Path, name: str, content: bytes) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InventoryError):
        open_inventory(settings(name), tmp_path)


def test_a_zip_with_two_files_asks_which(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("a.geojson", "{}")
        archive.writestr("b.geojson", "{}")
    with pytest.raises(InventoryError, match=r"holds 2 vector files: a.geojson, b.geojson"):
        open_inventory(settings("a.zip"), tmp_path)


def test_layer_settings_may_name_files(tmp_path: Path) -> None:
    inventory = tmp_path / "city.gpkg"
    assert locate("roads", tmp_path, inventory) == Source(inventory, "roads")
    assert locate("roads.shp", tmp_path, inventory) == Source(tmp_path / "roads.shp")
    assert locate("other.gpkg:r", tmp_path, inventory) == Source(tmp_path / "other.gpkg", "r")
    assert locate("a:b", tmp_path, inventory) == Source(inventory, "a:b")


def test_the_first_layer_with_points_is_chosen(tmp_path: Path) -> None:
    path = write(tmp_path, {"notes": pd.DataFrame({"a": [1]}), "trees": trees(3)})
    assert list_layers(Source(path)) == {"notes": None, "trees": "Point"}
    info = layer_info(Source(path))
    assert (info.source.layer, info.rows) == ("trees", 3)
    assert read_layer(info, fields=["dbh"]).table.columns.tolist() == ["dbh"]


def test_a_shapefile_hash_covers_its_attributes(tmp_path: Path) -> None:
    trees(2).to_file(tmp_path / "a.shp")
    before = sha256_of(tmp_path / "a.shp")
    trees(2, dbh=[1.0, 2.0]).to_file(tmp_path / "a.shp")
    assert sha256_of(tmp_path / "a.shp") != before


def test_a_file_that_counts_more_rows_than_bytes_is_refused(tmp_path: Path) -> None:
    """GDAL sets aside memory for as many rows as gpkg_ogr_contents says."""
    path = write(tmp_path, {"trees": trees()})
    with sqlite3.connect(path) as database:
        database.execute("UPDATE gpkg_ogr_contents SET feature_count = 20261231")
    database.close()
    with pytest.raises(InventoryError, match="20,261,231 rows"):
        open_inventory(settings(path.name), tmp_path)
