import geopandas as gpd
import pandas as pd
import pytest

from forestcycle.errors import InventoryError
from forestcycle.fieldwork.returns import CREW_LIST, FILLED_IN, read_returns
from forestcycle.publish.crew_rows import BLANKS

HEADER = "crew,date,tree_id,minutes,dose_percent,dose_limit_percent,note," + ",".join(BLANKS)


def test_the_blanks_of_a_crew_list_are_read():
    assert set(BLANKS) <= set(FILLED_IN)
    assert set(BLANKS) <= set(CREW_LIST.values())


def test_a_typed_up_crew_list(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text(
        f"{HEADER}\n"
        "One,2026-03-01,'-7,10,15,25,mind the wires,Yes,12,20 %,AB,went well\n"
        "One,2026-03-01,b,10,15,25,,,,,,\n"
        "One,2026-03-01,c,10,15,25,,partly,9,7.5,AB,\n"
    )
    read = read_returns(path)
    assert read["row"].tolist() == [1, 3]
    assert read["tree_id"].tolist() == ["-7", "c"]
    assert read["outcome"].tolist() == ["done", "partly done"]
    assert read["dose"].tolist() == [0.2, 0.075]
    assert read[["planned_minutes", "planned_dose", "dose_limit"]].iloc[0].tolist() == [
        10,
        0.15,
        0.25,
    ]
    assert read["note"].tolist() == ["went well", ""]
    assert (read["unreadable"] == "").all()


def test_what_cannot_be_read_is_said(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text(f"{HEADER}\nOne,soon,a,10,15,25,,perhaps,some,,,\n")
    (told,) = read_returns(path)["unreadable"]
    for part in ("date", "actual_minutes", "neither done"):
        assert part in told


def test_a_missing_column_is_one_fault(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text("tree_id,crew,outcome\na,One,done\n")
    with pytest.raises(InventoryError, match="visited_on"):
        read_returns(path)


def test_a_layer_from_a_device_says_what_the_same_table_as_text_says(tmp_path):
    """A GeoPackage has typed dates and numbers, missing ones, and places; CSV has text."""
    table = pd.DataFrame(
        {
            "tree_id": ["a", "b", "c"],
            "visited_on": pd.to_datetime(["2026-03-01", "2026-03-01", "2026-03-02"]),
            "crew": ["One", "One", "Two"],
            "outcome": ["done", "partly done", "skipped"],
            "minutes": [12.0, 9.5, None],
            "dose": [0.15, 0.05, None],
            "reason": [None, None, "parked car"],
            "who": ["AB", "AB", None],
        }
    )
    places = gpd.points_from_xy([500_000, 500_040, 500_080], [5_500_000] * 3)
    layer = gpd.GeoDataFrame(table, geometry=places, crs="EPSG:32632")
    layer.to_file(tmp_path / "device.gpkg", layer="visits", driver="GPKG")
    table.to_csv(tmp_path / "device.csv", index=False)
    read = read_returns(tmp_path / "device.gpkg")
    pd.testing.assert_frame_equal(read, read_returns(tmp_path / "device.csv"))
    assert (read["unreadable"] == "").all()
    assert read["reason"].tolist() == ["", "", "parked car"]
