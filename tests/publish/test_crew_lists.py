"""Crew lists say what the plan says, and open in a spreadsheet."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from forestcycle.publish.crew_lists import write_crew_lists
from forestcycle.publish.crew_rows import (
    BLANKS,
    addresses,
    crew_rows,
    diameter_column,
    number,
    terms_in_words,
)
from forestcycle.publish.output import Edition
from forestcycle.publish.text import original_cell, plain


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    return write_crew_lists(Edition(plan, tmp_path_factory.mktemp("lists")))


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_one_list_per_used_crew_day_and_one_of_all(plan, written):
    assert written[0].name == "all.csv"
    used = plan.crew_days[plan.crew_days["use"] == "planned"]
    assert len(written) == 1 + len(used) == 1 + len(set(written[1:]))


@pytest.mark.parametrize("stops", [1, 2, 3])
def test_plans_of_very_few_stops(plan, tmp_path, stops):
    few = replace(plan, stops=plan.stops.head(stops))
    assert len(read(write_crew_lists(Edition(few, tmp_path))[0])) == stops


def test_every_stop_stands_in_its_list_in_order(plan, written):
    everything = read(written[0])
    assert [original_cell(row["tree_id"]) for row in everything] == [
        plain(tree) for tree in plan.stops["tree_id"]
    ]
    days = [row for path in written[1:] for row in read(path)]
    assert sorted(map(str, days)) == sorted(map(str, everything))
    for path in written[1:]:
        assert [row["stop"] for row in read(path)] == [str(n + 1) for n in range(len(read(path)))]


def test_doses_and_minutes_are_the_plans(plan, written):
    rows = read(written[0])
    for column, shares in (("dose_percent", "dose"), ("dose_limit_percent", "dose_limit")):
        listed = np.array([float(row[column]) for row in rows])
        np.testing.assert_allclose(listed, 100 * plan.stops[shares], atol=1)
        assert (listed == np.rint(listed)).all()
    over = [float(row["dose_percent"]) > float(row["dose_limit_percent"]) for row in rows]
    assert not any(over)
    minutes = np.array([int(row["minutes"]) for row in rows])
    assert (minutes >= plan.stops["service_minutes"] - 1e-6).all()
    assert (minutes < plan.stops["service_minutes"] + 1).all()


def test_blanks_are_blank_and_no_cell_is_a_formula(written):
    for row in read(written[0]):
        assert all(row[column] == "" for column in BLANKS)
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row.values())


def test_spreadsheets_see_utf8(written):
    assert written[0].read_bytes().startswith(b"\xef\xbb\xbf")


def test_file_names_stay_inside_the_folder(written):
    lists = written[0].parent
    for path in written[1:]:
        assert path.resolve().parent.parent == lists.resolve()
        assert not set(path.name + path.parent.name) & set('<>:"/\\|?*')


def test_diameter_in_the_citys_units(plan):
    assert diameter_column("us") == "dbh_in"
    assert diameter_column("metric") in crew_rows(plan).columns


@pytest.mark.parametrize(
    ("value", "text"), [(24.96, "25"), (12.34, "12.3"), (0.0, "0"), (np.nan, ""), (100.0, "100")]
)
def test_numbers_are_short(value, text):
    assert number(value) == text


def test_an_address_names_its_street_once(plan):
    trees = plan.stops.iloc[:3].assign(
        address=["12", "12 Mill Row", ""], street=["Mill Row", "mill row", "Mill Row"]
    )
    assert addresses(trees) == ["12 Mill Row", "12 Mill Row", "Mill Row"]


@pytest.mark.parametrize(
    ("hours", "equipment", "words"),
    [
        ("", "", ""),
        ("09:00-14:00 school, market", "", "Work 09:00-14:00 only (school, market)."),
        ("", "chipper; lift truck", "Bring: chipper, lift truck."),
        ("09:00-14:00 school", "chipper", "Work 09:00-14:00 only (school). Bring: chipper."),
    ],
)
def test_hours_and_equipment_are_said_in_one_line(hours, equipment, words):
    assert terms_in_words({"hours": hours, "equipment": equipment}) == words
