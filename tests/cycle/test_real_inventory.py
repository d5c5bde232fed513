"""The whole road on a real inventory: inches, no defects, no history, odd values.

City of Portland street-tree inventory 2010-2016, four neighbourhoods, as
packed by the R package pdxTrees; counts are taken anew with the csv module.
"""

import csv
import gzip
import json
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest

from forestcycle.schedule.verify import verify
from tests.cli.commands import run

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("real inventory")]

CREWS, DAYS_EACH = 3, 40
DAY_COST_CENTS, BUDGET_CENTS = 120_000, 12_000_000
SECONDS = 15
PROMISED_KEYS = str.split(
    "trees_in_inventory trees_usable trees_eligible trees_planned crew_days_available "
    "crew_days_used worth bound gap minutes_service minutes_travel cost_cents budget_cents "
    "unplanned_reasons verified seconds seed versions"
)


@dataclass(frozen=True)
class Road:
    """The folder in which the commands ran, and what is in it."""

    folder: Path
    rows: list[dict[str, str]]
    summary: dict[str, Any]
    stops: gpd.GeoDataFrame
    trees: gpd.GeoDataFrame
    crew_days: gpd.GeoDataFrame
    legs: gpd.GeoDataFrame

    @property
    def listed(self) -> list[dict[str, str]]:
        with (self.folder / "plan/crew_lists/all.csv").open(encoding="utf-8-sig", newline="") as f:
            return list(csv.DictReader(f))


def decide(settings: Path) -> None:
    """What a forester fills in: crews that may work by conductors, costs and a budget."""
    text = settings.read_text()
    for old, new in {
        "storm_reserve = 0.05": "storm_reserve = 0.0",
        'skills = ["ground", "climb", "lift"]': (
            'skills = ["ground", "climb", "lift", "line_clearance"]'
        ),
        "day_cost_cents = 0": f"day_cost_cents = {DAY_COST_CENTS}",
        "most_days = 40": f"most_days = {DAYS_EACH}",
    }.items():
        assert old in text
        text = text.replace(old, new)
    settings.write_text(f"{text}\n[budget]\nyear_cents = {BUDGET_CENTS}\n")


@pytest.fixture(scope="module")
def road(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Road:
    source = shared_data / "trees" / "portland_street_trees_4nbhd.csv.gz"
    folder = tmp_path_factory.mktemp("portland")
    for words in (
        ("inspect", source),
        ("assess", "cycle.toml"),
        ("plan", "cycle.toml", "--out", "plan", "--time-limit", SECONDS, "--seed", 1),
        ("publish", "plan"),
    ):
        ended = run(*words, "--quiet", cwd=folder)
        assert ended.code == 0, ended.said
        if words[0] == "inspect":
            decide(folder / "cycle.toml")
    with gzip.open(source, "rt", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    layers = {
        name: gpd.read_file(folder / "plan" / "plan.gpkg", layer=name)
        for name in ("stops", "trees", "crew_days", "legs")
    }
    summary = json.loads((folder / "plan" / "summary.json").read_text(encoding="utf-8"))
    return Road(folder, rows, summary, **layers)


def standing_and_measured(row: dict[str, str]) -> bool:
    return row["condition"] != "Dead" and float(row["dbh"]) > 0


def test_every_row_is_counted(road):
    """Rows, less dead and unmeasured trees, less rows that repeat a tree at its place."""
    assert road.summary["trees_in_inventory"] == len(road.rows) == 11_962
    sound = [row for row in road.rows if standing_and_measured(row)]
    trees = {(r["longitude"], r["latitude"], r["scientific"], float(r["dbh"])) for r in sound}
    assert road.summary["trees_usable"] == len(trees)
    assert len(road.trees) == len(trees)
    assert set(road.trees["tree_id"]) <= {row["objectid"] for row in sound}


def test_inches_became_centimetres(road):
    inches = {row["objectid"]: float(row["dbh"]) for row in road.rows}
    read = road.trees.set_index("tree_id")["dbh_cm"]
    np.testing.assert_allclose(read, [2.54 * inches[name] for name in read.index], rtol=1e-9)


def test_the_summary_keeps_its_promises(road):
    assert set(PROMISED_KEYS) <= set(road.summary)
    assert road.summary["verified"] is True, road.summary["verification_faults"]
    assert road.summary["travel"] == "distance"
    assert road.summary["certified"] is False, "air distances only estimate the minutes"
    assert road.summary["crew_days_available"] == CREWS * DAYS_EACH
    assert road.summary["seed"] == 1
    assert road.summary["worth"] <= road.summary["bound"]
    assert road.summary["gap"] <= 0.05


def test_the_budget_binds(road):
    cost = road.summary["cost_cents"]
    assert cost <= road.summary["budget_cents"] == BUDGET_CENTS
    assert cost > BUDGET_CENTS - DAY_COST_CENTS, "another crew-day could have been paid"
    assert cost == road.crew_days["cost_cents"].sum()


def test_every_tree_is_planned_once_or_has_a_reason(road):
    assert road.summary["trees_planned"] == len(road.stops) == road.stops["tree_id"].nunique()
    left_out = road.trees[~road.trees["tree_id"].isin(road.stops["tree_id"])]
    assert dict(Counter(left_out["reason"])) == road.summary["unplanned_reasons"]
    assert (left_out["reason"] != "").all()
    assert (left_out["reason_text"] != "").all()


def test_no_promise_is_broken(road):
    assert verify(road.folder / "plan").ok
    assert (road.stops["dose"] <= road.stops["dose_limit"] + 1e-9).all()
    assert (road.stops["date"] >= road.stops["not_before"]).all()
    assert (road.stops["next_due"] > road.stops["date"]).all()


def test_the_lists_hold_what_the_plan_says(road):
    lists = sorted((road.folder / "plan" / "crew_lists").glob("*/*.csv"))
    assert len(lists) == road.summary["crew_days_used"]
    assert [row["tree_id"] for row in road.listed] == road.stops.sort_values(
        ["date", "crew", "stop_order"]
    )["tree_id"].tolist()
    assert (road.folder / "plan" / "maps" / "city.html").is_file()
    assert (road.folder / "plan" / "index.html").is_file()
    assert (road.folder / "assessment.gpkg").is_file()


def test_a_day_ends_within_its_shift(road):
    """480 minutes less 30 of break and 20 of set-up, as proposed by inspect."""
    used = road.crew_days[road.crew_days["use"] == "planned"]
    assert (used["service_minutes"] + used["travel_minutes"] <= 430 + 1e-6).all()


def test_days_are_driven_no_worse_than_by_the_nearest_tree_next(road):
    """Rosenkrantz, Stearns and Lewis 1977: the nearest neighbour rule, as a yardstick."""
    planned = road.legs.groupby("crew_day_id")["metres"].sum()
    depot = np.array([road.trees.geometry.x.mean(), road.trees.geometry.y.mean()])
    by_rule = 0.0
    for _, stops in road.stops.groupby("crew_day_id"):
        points = np.column_stack([stops.geometry.x, stops.geometry.y])
        at, left = depot, list(range(len(points)))
        while left:
            away = np.hypot(*(points[left] - at).T)
            by_rule += away.min()
            at = points[left.pop(int(away.argmin()))]
        by_rule += float(np.hypot(*(depot - at)))
    assert planned.sum() <= 1.4 * by_rule  # the detour factor of travel without streets
