"""Defects, visits and requests come in under our names; what cannot be used says why."""

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from forestcycle.errors import InventoryError
from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.schema import (
    DEFECT_COLUMNS,
    REQUEST_COLUMNS,
    VISIT_COLUMNS,
    Inventory,
)
from tests.inventory.cities import settings, trees, write


def with_records(folder: Path, key: str, table: dict[str, list[Any]]) -> Inventory:
    write(folder, {"trees": trees(dbh=[0.0] + [20.0] * 19), key: pd.DataFrame(table)})
    return open_inventory(settings(layers={"trees": "trees", key: key}), folder)


def test_no_records_are_empty_tables(tmp_path: Path) -> None:
    write(tmp_path, {"trees": trees()})
    inventory = open_inventory(settings(), tmp_path)
    for table, columns in (
        (inventory.defects, DEFECT_COLUMNS),
        (inventory.visits, VISIT_COLUMNS),
        (inventory.requests, REQUEST_COLUMNS),
    ):
        assert len(table) == 0
        assert {name: table[name].dtype for name in columns} == dict(columns)


def test_visits(tmp_path: Path) -> None:
    inventory = with_records(
        tmp_path,
        "visits",
        {
            "ID": ["T1", "T2", "T3", "nobody", "T0"],
            "date": ["2024-03-01", "2025", "soon", "2024-03-01", "2024-03-01"],
            "dose": [0.15, 15.0, 0.1, 0.1, 0.1],
        },
    )
    assert inventory.visits["tree_id"].tolist() == ["T1", "T2"]
    assert inventory.visits["dose"].isna().tolist() == [False, True]
    assert {name: inventory.visits[name].dtype for name in VISIT_COLUMNS} == dict(VISIT_COLUMNS)
    lines = inventory.set_aside.query("layer == 'visits'")
    assert list(zip(lines["row"], lines["fault"], lines["used"], strict=True)) == [
        (1, "dose out of range", True),
        (2, "date missing or not understood", False),
        (3, "no usable tree with this id", False),
        (4, "no usable tree with this id", False),
    ]


def test_a_visit_with_a_wrong_dose_still_counts(tmp_path: Path) -> None:
    """Dropping it would let the tree be cut again too soon."""
    visits = {"tree_id": ["T1"], "visited_on": ["2026-10-01"], "dose": ["a lot"]}
    inventory = with_records(tmp_path, "visits", visits)
    assert inventory.visits["visited_on"].tolist() == [pd.Timestamp(2026, 10, 1)]


def test_defects_and_requests(tmp_path: Path) -> None:
    defects = {"tree_id": ["T1", "T1"], "defect": ["deadwood", None], "value": ["30", "x"]}
    inventory = with_records(tmp_path, "defects", defects)
    assert inventory.defects["value"].tolist() == [30.0]
    assert inventory.set_aside.query("layer == 'defects'")["fault"].tolist() == [
        "defect missing", "value not a number",
    ]  # fmt: skip
    requests = {"tree_id": ["T1", "T2", "T3"], "deadline": ["2027-05-01", None, "x"]}
    requests["mandatory"] = ["yes", "0", "perhaps"]
    inventory = with_records(tmp_path, "requests", requests)
    assert inventory.requests["mandatory"].tolist() == [True, False, False]
    assert inventory.requests["deadline"].isna().tolist() == [False, True, True]


def test_missing_columns_are_named(tmp_path: Path) -> None:
    with pytest.raises(InventoryError) as caught:
        with_records(tmp_path, "visits", {"when": ["2024"]})
    assert [fault.what for fault in caught.value.faults] == [
        "no column 'tree_id'", "no column 'visited_on'",
    ]  # fmt: skip
