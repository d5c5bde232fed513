"""Every rate and share that the outlook reads, from settings and tables, is refused above 1."""

from datetime import date
from pathlib import Path

import pytest

from forestcycle.errors import SettingsError
from forestcycle.outlook import CrewKind, take_stock
from forestcycle.practice import assess
from forestcycle.settings.load import check_settings
from forestcycle.settings.practice import Practice
from tests.practice.own_table import own_table
from tests.practice.random_city import random_city

CREW = CrewKind("All", skill=15, now=1, days=3, minutes_per_day=60.0, day_cost_cents=10_000)
SHARES_IN_TABLES = (
    ("priors", "share"),
    ("priors", "severity"),
    ("defects", "worsens_per_year"),
    ("defects", "hazard"),
    ("defects", "branch_share"),
    ("defects", "reach"),
    ("defects", "dose_young"),
    ("defects", "dose_old"),
    ("severity", "severity"),
    ("severity_words", "severity"),
    ("actions", "first_share"),
    ("actions", "cut_share"),
    ("actions", "effort"),
    ("dose_limits", "limit"),
    ("usual_doses", "dose"),
    ("targets", "weight"),
    ("packing_rules", "value"),
)
CITY = {
    "city": {
        "name": "A",
        "inventory": "a.gpkg",
        "year_start": date(2027, 1, 1),
        "year_end": date(2027, 12, 31),
    }
}


@pytest.mark.parametrize(("table", "column"), SHARES_IN_TABLES)
def test_a_share_over_1_in_a_table_is_refused_by_name(table: str, column: str, tmp_path: Path):
    own_table(tmp_path, table, column, "1.2")
    inventory = random_city(20, 1)
    days = {"on": date(2027, 1, 1), "year_end": date(2027, 12, 31)}
    with pytest.raises(SettingsError) as error:
        take_stock(
            inventory,
            assess(inventory, Practice(), **days, folder=tmp_path),
            (CREW,),
            {"": 3.0},
        )
    assert "'1.2' does not fit" in str(error.value)
    assert f"{table}.csv, column {column!r}" in str(error.value)


@pytest.mark.parametrize("value", [1.2, 95.0, -0.1, float("nan"), float("inf")])
@pytest.mark.parametrize(
    ("part", "key"),
    [
        ("outlook", "crew_days_paid"),
        ("calendar", "storm_reserve"),
        ("plan", "ward_least_share"),
    ],
)
def test_a_share_over_1_in_the_settings_is_refused_by_name(part: str, key: str, value: float):
    given = {"North": value} if key == "ward_least_share" else value
    with pytest.raises(SettingsError, match=key):
        check_settings({**CITY, part: {key: given}}, "cycle.toml")
