"""Streets, wards, depots and parks around the trees."""

from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest
import shapely

from forestcycle.errors import InventoryError
from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.schema import Inventory
from tests.inventory.cities import CRS, EAST, NORTH, settings, trees, write


def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
    return [(EAST + x, NORTH + y) for x, y in points]


def with_layer(folder: Path, key: str, layer: gpd.GeoDataFrame, **parts: Any) -> Inventory:
    write(folder, {"trees": trees(), "other": layer})
    return open_inventory(settings(layers={"trees": "trees", key: "other"}, **parts), folder)


def lines(count: int, **columns: list[Any]) -> gpd.GeoDataFrame:
    geometry = [shapely.LineString(at((0, 9 * i), (50, 9 * i))) for i in range(count)]
    return gpd.GeoDataFrame(columns, geometry=geometry, crs=CRS)


def test_one_way_streets_are_drawn_in_their_direction(tmp_path: Path) -> None:
    """OpenStreetMap's values of oneway: yes, no, -1 (against the drawing)."""
    table = lines(3, name=["A", "B", "C"], oneway=["yes", "no", "-1"])
    streets = with_layer(tmp_path, "streets", table).streets
    assert streets is not None
    assert streets["one_way"].tolist() == [True, False, True]
    starts = [line.coords[0][0] - EAST for line in streets.geometry]
    assert starts == pytest.approx([0, 0, 50])


def test_one_way_letters(tmp_path: Path) -> None:
    table = lines(3, name=["A", "B", "C"], oneway=["F", "B", "T"])
    streets = with_layer(tmp_path, "streets", table).streets
    assert streets is not None
    assert streets["one_way"].tolist() == [True, False, True]
    assert streets.geometry[2].coords[0][0] - EAST == pytest.approx(50)


@pytest.mark.parametrize(
    ("columns", "dbh", "kmh"),
    [
        ({"maxspeed": ["30", "20 mph", "walk"]}, "cm", [30, 32.18688, None]),
        ({"speed_mph": [25, 30, 0]}, "cm", [40.2336, 48.28032, None]),
        ({"speed_limit": [25, 30, None]}, "in", [40.2336, 48.28032, None]),
        ({"speed_limit": [50, 30, None]}, "cm", [50, 30, None]),
    ],
)
def test_speeds(
    tmp_path: Path, columns: dict[str, list[Any]], dbh: str, kmh: list[float | None]
) -> None:
    """1 mile = 1.609344 km, exact: NIST Special Publication 811 (2008), B.8."""
    streets = with_layer(tmp_path, "streets", lines(3, **columns), units={"dbh": dbh}).streets
    assert streets is not None
    found = [None if speed != speed else speed for speed in streets["speed_kmh"]]
    assert found == pytest.approx(kmh)


def test_streets_of_several_parts_and_in_another_crs(tmp_path: Path) -> None:
    parts = shapely.MultiLineString([at((0, 0), (5, 0)), at((9, 0), (20, 0))])
    table = gpd.GeoDataFrame({"street": ["A", "B"]}, geometry=[parts, None], crs=CRS).to_crs(4326)
    inventory = with_layer(tmp_path, "streets", table)
    assert inventory.streets is not None
    assert inventory.streets["street"].tolist() == ["A", "A"]
    assert inventory.streets.crs == inventory.trees.crs
    assert inventory.streets.length.tolist() == pytest.approx([5, 11], abs=0.001)
    assert inventory.set_aside["layer"].tolist() == ["streets"]


def test_wards_are_those_of_geopandas_first_match(tmp_path: Path) -> None:
    boxes = [
        shapely.box(*at((-1, -1))[0], *at((50, 1))[0]),
        shapely.box(*at((40, -1))[0], *at((99, 1))[0]),
    ]
    wards = gpd.GeoDataFrame({"ward": ["North", "South"]}, geometry=boxes, crs=CRS)
    inventory = with_layer(tmp_path, "wards", wards)
    joined = inventory.trees.drop(columns="ward").sjoin(wards, how="left")
    expected = joined.groupby(level=0)["ward"].first().fillna("")
    assert inventory.trees["ward"].tolist() == expected.tolist()
    assert set(expected) == {"North", "South", ""}


def test_a_ward_layer_leaves_the_citys_own_words_elsewhere(tmp_path: Path) -> None:
    wards = gpd.GeoDataFrame({"ward": ["North"]}, geometry=[shapely.box(0, 0, 1, 1)], crs=CRS)
    write(tmp_path, {"trees": trees(quarter=["Old town"] * 20), "wards": wards})
    inventory = open_inventory(
        settings(layers={"trees": "trees", "wards": "wards"}, fields={"ward": "quarter"}), tmp_path
    )
    assert set(inventory.trees["ward"]) == {"Old town"}


def test_depots_and_parks(tmp_path: Path) -> None:
    yard = shapely.box(*at((0, 0))[0], *at((10, 10))[0])
    depots = gpd.GeoDataFrame({"name": ["Yard"]}, geometry=[yard], crs=CRS)
    found = with_layer(tmp_path, "depots", depots).depots
    assert found is not None
    assert found["depot"].tolist() == ["Yard"]
    assert found.geometry[0].within(yard)
    parks = with_layer(tmp_path, "parks", depots).parks
    assert parks is not None
    assert parks["park"].tolist() == ["Yard"]


def test_layers_of_the_wrong_kind_are_reported_together(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees()})
    layers = {"trees": "trees", "streets": "trees", "wards": "trees", "depots": "nowhere.gpkg"}
    with pytest.raises(InventoryError) as caught:
        open_inventory(settings(layers=layers), tmp_path)
    assert [fault.what for fault in caught.value.faults] == [
        "holds no lines", "holds no polygons", "no such file",
    ]  # fmt: skip


def test_a_layer_in_another_file(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees()})
    write(tmp_path, {"roads": lines(2, name=["A", "B"])}, "other.gpkg")
    inventory = open_inventory(settings(layers={"streets": "other.gpkg:roads"}), tmp_path)
    assert inventory.streets is not None
    assert len(inventory.streets) == 2
