import time

import geopandas as gpd
import pandas as pd
import pyogrio
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


def test_numbers_as_a_clerk_types_them(tmp_path):
    """A decimal comma stands in one cell of many; 1,250 may be a thousand or one and a bit."""
    path = tmp_path / "day.csv"
    rows = ["12;6", "7,5;6,5 %", "20;10", "1,250;5", "9;0,5"]
    lines = [f"One;01.03.2026;{n};10;15;25;;yes;{row};AB;" for n, row in enumerate(rows)]
    path.write_text("\n".join([HEADER.replace(",", ";"), *lines]), encoding="utf-8-sig")
    read = read_returns(path)
    assert read["minutes"].fillna(-1).tolist() == [12, 7.5, 20, -1, 9]
    assert read["dose"].tolist() == [0.06, 0.065, 0.1, 0.05, 0.005]
    assert read["unreadable"].tolist() == ["", "", "", "actual_minutes is not a number", ""]


@pytest.mark.parametrize(
    ("written", "day_first", "expected"),
    [
        ("3/4/2026", None, "date '3/4/2026': day or month first?"),
        ("3/4/2026", True, pd.Timestamp(2026, 4, 3)),
        ("3/4/2026", False, pd.Timestamp(2026, 3, 4)),
        ("2026", None, "date '2026' not understood"),
        ("", None, "no date"),
    ],
)
def test_a_day_is_read_where_it_has_one_meaning(tmp_path, written, day_first, expected):
    path = tmp_path / "day.csv"
    path.write_text(f"{HEADER}\nOne,{written},a,10,15,25,,yes,9,5,AB,\n")
    (told,) = read_returns(path, day_first=day_first).to_dict("records")
    assert expected in (told["unreadable"], told["visited_on"])


@pytest.mark.parametrize("ending", ["csv", "gpkg"])
def test_a_moment_in_world_time_has_the_day_of_the_place(tmp_path, monkeypatch, ending):
    """Nine in the morning in Sydney, UTC+11 in March, is ten at night of the day before in UTC."""
    moments = ["2026-03-01T22:00:00Z", "2026-03-02T05:00:00Z", None]
    table = pd.DataFrame({"tree_id": list("abc"), "crew": "One", "outcome": "done"})
    path = tmp_path / f"device.{ending}"
    if ending == "csv":
        table.assign(visited_on=moments).to_csv(path, index=False)
    else:
        typed = table.assign(visited_on=pd.to_datetime(moments, utc=True))
        places = gpd.points_from_xy([1] * 3, [1] * 3, crs="EPSG:4326")
        gpd.GeoDataFrame(typed, geometry=places).to_file(path)
    with monkeypatch.context() as clock:
        clock.setenv("TZ", "Australia/Sydney")
        time.tzset()
        read = read_returns(path)
    time.tzset()
    assert read["visited_on"].tolist()[:2] == [pd.Timestamp(2026, 3, 2)] * 2
    assert read["unreadable"].tolist() == ["", "", "no date"]


def test_midnights_are_days_wherever_the_computer_stands(tmp_path, monkeypatch):
    path = tmp_path / "device.csv"
    path.write_text("tree_id,visited_on,crew,outcome\na,2026-03-02T00:00:00Z,One,done\n")
    with monkeypatch.context() as clock:
        clock.setenv("TZ", "America/Los_Angeles")
        time.tzset()
        read = read_returns(path)
    time.tzset()
    assert read["visited_on"].tolist() == [pd.Timestamp(2026, 3, 2)]


def test_further_columns_are_passed_over_whatever_their_names(tmp_path):
    path = tmp_path / "device.csv"
    header = "row,tree_id,visited_on,crew,outcome,done,Row,geometry"
    path.write_text(f"{header}\n7,a,2026-03-01 09:30:00+02,One,skipped,yes,8,POINT (1 1)\n")
    (told,) = read_returns(path).to_dict("records")
    assert (told["row"], told["outcome"], told["unreadable"]) == (1, "skipped", "")
    assert told["visited_on"] == pd.Timestamp(2026, 3, 1)


def test_a_column_that_stands_twice_is_one_fault(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text(f"{HEADER},Done\nOne,2026-03-01,a,10,15,25,,yes,9,5,AB,,no\n")
    with pytest.raises(InventoryError, match="several columns named 'done'"):
        read_returns(path)


def test_a_spreadsheets_unicode_text(tmp_path):
    path = tmp_path / "day.txt"
    row = "One,2026-03-01,a,10,15,25,,yes,9,5,AB,Gro\u00dfe \u00c4ste"
    path.write_text(f"{HEADER}\n{row}".replace(",", "\t"), encoding="utf-16")
    (told,) = read_returns(path).to_dict("records")
    assert (told["outcome"], told["note"]) == ("done", "Gro\u00dfe \u00c4ste")


@pytest.mark.parametrize(
    ("content", "fault"),
    [("", "is empty"), (f"Sheet of 1 March\n{HEADER}\n", "more cells than the first line")],
)
def test_what_is_no_table_is_said(tmp_path, content, fault):
    path = tmp_path / "day.csv"
    path.write_text(content)
    with pytest.raises(InventoryError, match=fault):
        read_returns(path)


def test_a_per_cent_sign_says_what_a_share_is(tmp_path):
    """In a plain table doses are shares; 1 % is not all of the crown."""
    path = tmp_path / "device.csv"
    path.write_text(
        "tree_id,visited_on,crew,outcome,dose,minutes\n"
        "a,2026-03-01,One,done,1 %,9\nb,2026-03-01,One,done,0.12,9 %\n"
    )
    read = read_returns(path)
    assert read["dose"].tolist() == [0.01, 0.12]
    assert read["unreadable"].tolist() == ["", "minutes is not a number"]


def test_a_spreadsheet_file_says_what_its_csv_says(tmp_path):
    path = tmp_path / "day.csv"
    rows = ["One,2026-03-01,a,10,15,25,,yes,12.5,20,AB,ok", "One,2026-03-02,b,10,15,25,,no,,,AB,"]
    path.write_text("\n".join([HEADER, *rows]))
    table = pd.read_csv(path)
    table["date"] = pd.to_datetime(table["date"])
    pyogrio.write_dataframe(table, tmp_path / "day.xlsx", driver="XLSX")
    pd.testing.assert_frame_equal(read_returns(tmp_path / "day.xlsx"), read_returns(path))
