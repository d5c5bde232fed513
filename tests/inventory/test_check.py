"""What cannot be used is set aside with its reason, and nothing is lost."""

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from forestcycle.errors import InventoryError
from forestcycle.inventory.schema import TREE_COLUMNS, Inventory
from tests.inventory.cities import EAST, NORTH, faults, opened, trees


def nothing_is_lost(inventory: Inventory) -> bool:
    lines = inventory.set_aside
    whole = lines[(lines["layer"] == "trees") & ~lines["used"]]["row"].nunique()
    return inventory.rows_read == len(inventory.trees) + whole


def test_fine_trees_all_stay(tmp_path: Path) -> None:
    inventory = opened(tmp_path, trees())
    assert faults(inventory) == []
    assert len(inventory.trees) == inventory.rows_read == 20
    assert list(inventory.trees.columns) == [*TREE_COLUMNS, "geometry"]
    assert {name: inventory.trees[name].dtype for name in TREE_COLUMNS} == dict(TREE_COLUMNS)
    assert inventory.trees.index.tolist() == list(range(20))
    assert len(inventory.sha256) == 64


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        (np.nan, "diameter missing"),
        (0.0, "diameter zero"),
        (-3.0, "diameter negative"),
        (1e-300, "diameter absurd"),
        (5000.0, "diameter absurd"),
    ],
)
def test_a_faulty_diameter_sets_the_tree_aside(tmp_path: Path, value: float, fault: str) -> None:
    inventory = opened(tmp_path, trees(dbh=[value] + [20.0] * 19))
    assert faults(inventory) == [(0, fault, False)]
    assert inventory.trees["source_row"].tolist() == list(range(1, 20))
    assert nothing_is_lost(inventory)


def test_a_diameter_absurd_for_its_species(tmp_path: Path) -> None:
    table = trees(species=["Acer rubrum", "Quercus robur"] * 10, dbh=[150.0] * 20)
    inventory = opened(tmp_path, table, largest_dbh_cm={"Acer rubrum": 120.0})
    assert {row % 2 for row, _, _ in faults(inventory)} == {0}
    assert set(inventory.trees["species"]) == {"Quercus robur"}


def test_text_among_diameters_sets_rows_aside(tmp_path: Path) -> None:
    inventory = opened(tmp_path, trees(dbh=["12", "thick", " 14.5 "] + ["20"] * 17))
    assert faults(inventory) == [(1, "diameter not a number", False)]
    assert inventory.set_aside["value"].tolist() == ["thick"]
    assert inventory.trees["dbh_cm"].tolist()[:2] == [12.0, 14.5]


def test_a_column_of_text_is_no_diameter(tmp_path: Path) -> None:
    with pytest.raises(InventoryError, match=r"field species: 20 of 20 values are no numbers"):
        opened(tmp_path, trees(), fields={"dbh": "species"})


@pytest.mark.parametrize(("unit", "factor"), [("in", 2.54), ("mm", 0.1), ("ft", 30.48)])
def test_units_convert_exactly(tmp_path: Path, unit: str, factor: float) -> None:
    """1 in = 2.54 cm and 1 ft = 0.3048 m, exact: NIST Special Publication 811 (2008), B.8."""
    inventory = opened(
        tmp_path, trees(2, dbh=[8.0, 10.0], width=[10.0, 8.0]),
        fields={"site_width": "width"}, units={"dbh": unit, "site_width": "ft"},
    )  # fmt: skip
    assert inventory.trees["dbh_cm"].tolist() == [8.0 * factor, 10.0 * factor]
    assert inventory.trees["site_width_m"].tolist() == pytest.approx([3.048, 2.4384], rel=1e-15)


def test_an_impossible_height_is_left_out_and_the_tree_used(tmp_path: Path) -> None:
    heights = [1e-300, 0.0, -2.0, 9_000.0, 0.5, 12.0]
    inventory = opened(tmp_path, trees(6, tall=heights), fields={"height": "tall"})
    assert faults(inventory) == [(row, "height impossible", True) for row in (0, 2, 3)]
    np.testing.assert_array_equal(inventory.trees["height_m"], [*[np.nan] * 4, 0.5, 12.0])


def test_repeated_and_missing_ids(tmp_path: Path) -> None:
    ids = ["A", "A", None] + [f"T{i}" for i in range(17)]
    inventory = opened(tmp_path, trees(id=ids))
    assert faults(inventory) == [(1, "tree id repeated", False), (2, "tree id missing", False)]
    assert nothing_is_lost(inventory)


def test_a_column_that_is_no_id(tmp_path: Path) -> None:
    with pytest.raises(InventoryError, match=r"19 of 20 rows repeat a tree id"):
        opened(tmp_path, trees(), fields={"tree_id": "species"})


def test_row_numbers_stand_in_for_ids(tmp_path: Path) -> None:
    inventory = opened(tmp_path, trees(2), fields={"tree_id": None})
    assert inventory.trees["tree_id"].tolist() == ["1", "2"]


def test_the_files_own_row_number_can_be_the_id(tmp_path: Path) -> None:
    inventory = opened(tmp_path, trees(2), fields={"tree_id": "fid"})
    assert inventory.trees["tree_id"].tolist() == ["1", "2"]


def test_missing_and_impossible_places(tmp_path: Path) -> None:
    geometry = list(trees().geometry)
    geometry[0], geometry[1], geometry[2] = None, shapely.Point(), shapely.Point(0, 0)
    geometry[3] = shapely.Point(1e9, 1e9)
    geometry[4] = shapely.Point(EAST + 600_000, NORTH)
    inventory = opened(tmp_path, trees(geometry=geometry))
    assert faults(inventory) == [
        *((row, "coordinates missing", False) for row in (0, 1, 2)),
        *((row, "coordinates impossible", False) for row in (3, 4)),
    ]
    assert nothing_is_lost(inventory)


def test_twins_are_set_aside_and_neighbours_noted(tmp_path: Path) -> None:
    geometry = [shapely.Point(EAST, NORTH)] * 3 + list(trees().geometry)[3:]
    inventory = opened(tmp_path, trees(dbh=[20.0, 20.0] + [30.0] * 18, geometry=geometry))
    assert faults(inventory) == [
        (1, "same place, species and diameter as another tree", False),
        (2, "same place as another tree", True),
    ]
    assert nothing_is_lost(inventory)


def test_dead_and_removed_trees(tmp_path: Path) -> None:
    table = trees(cond=["Dead", "ok"] + ["Good"] * 18, state=["in", "in", "Stump"] + ["in"] * 17)
    inventory = opened(
        tmp_path, table, fields={"condition": "cond", "status": "state"},
        values={"status": {"in": "standing", "stump": "removed"}},
    )  # fmt: skip
    assert faults(inventory) == [
        (0, "tree dead", False),
        (1, "condition not understood", True),
        (2, "tree removed", False),
    ]
    assert inventory.trees["condition"].tolist()[:2] == ["unknown", "good"]


def test_an_unknown_species_keeps_the_tree(tmp_path: Path) -> None:
    species = ["Acer rubum", "<script>alert(1)</script>", None] + ["Acer rubrum"] * 17
    inventory = opened(tmp_path, trees(species=species), known_species=["Acer rubrum"])
    assert faults(inventory) == [(row, "species unknown", True) for row in (0, 1, 2)]
    assert inventory.trees["species"].tolist()[:4] == ["Acer", "unknown", "unknown", "Acer rubrum"]
    assert inventory.set_aside["remedy"][0].startswith("did you mean Acer rubrum?")
    assert nothing_is_lost(inventory)


def test_the_city_may_say_what_a_name_means(tmp_path: Path) -> None:
    inventory = opened(
        tmp_path, trees(species=["Red Maple"] * 20), known_species=["Acer rubrum"],
        values={"species": {"red maple": "Acer rubrum"}},
    )  # fmt: skip
    assert set(inventory.trees["species"]) == {"Acer rubrum"}


def test_three_dimensions_and_multi_points(tmp_path: Path) -> None:
    geometry: list[Any] = [shapely.MultiPoint([(EAST + 9 * i, NORTH, 7.0)]) for i in range(20)]
    geometry[1] = shapely.MultiPoint([(EAST, NORTH, 1.0), (EAST + 1, NORTH, 1.0)])
    inventory = opened(tmp_path, trees(geometry=geometry))
    assert faults(inventory) == [(1, "geometry not a single point", False)]
    assert not inventory.trees.geometry.has_z.any()
    assert inventory.trees.geometry.geom_type.unique().tolist() == ["Point"]


def test_no_usable_tree_is_a_clear_fault(tmp_path: Path) -> None:
    with pytest.raises(InventoryError, match=r"none of 20 rows can be used: diameter zero \(20\)"):
        opened(tmp_path, trees(dbh=[0.0] * 20))


DIAMETERS = st.lists(
    st.one_of(st.none(), st.floats(-5, 900), st.sampled_from([0.0, 20.0])), min_size=2, max_size=12
)


@hypothesis_settings(max_examples=20, deadline=None)
@given(DIAMETERS, st.data())
def test_every_row_is_a_tree_or_has_a_reason(dbh: list[float | None], data: st.DataObject) -> None:
    count = len(dbh)
    place = st.sampled_from([None, shapely.Point(EAST, NORTH), shapely.Point(EAST + 5, NORTH)])
    geometry = data.draw(st.lists(place, min_size=count, max_size=count))
    table = trees(count, dbh=np.array(dbh, dtype=float), geometry=geometry)
    with tempfile.TemporaryDirectory() as folder:
        try:
            inventory = opened(Path(folder), table)
        except InventoryError:
            return
    assert nothing_is_lost(inventory)
    assert (inventory.trees["dbh_cm"] > 0).all()
    assert inventory.trees["tree_id"].is_unique
