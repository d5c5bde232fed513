"""Scenarios side by side: like single plans, the same for any workers, resumable."""

import codecs
import json
import os
import signal
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import sample_city
from forestcycle.cycle import assess_city, compare_scenarios, open_city, pack_year
from forestcycle.cycle.common_ground import common_ground
from forestcycle.cycle.compare import HEADER, Compared, forecast_seconds
from forestcycle.cycle.scenario_plan import PLANNED, ScenarioFigures, ScenarioTask, plan_scenario
from forestcycle.cycle.scenarios import Scenario, read_scenarios
from forestcycle.errors import PlanError
from forestcycle.schedule import rounds
from tests.cli.commands import run
from tests.parallel.dask_cluster import dask_cluster

KINDS = ("Ground crew", "Climbing crew", "Line crew")
TABLE = f"""name,budget.year_cents,{",".join(f"crews.{kind}.count" for kind in KINDS)}
as it is,,,,
poor,130000,,,
nobody,,0,0,0
"""
TIMES = ["seconds"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("city")
    sample_city.make(folder, trees=200, seed=5)
    (folder / "scenarios.csv").write_text(TABLE)
    return folder


@pytest.fixture(scope="module")
def city(folder):
    return open_city(folder / "cycle.toml")


@pytest.fixture(scope="module")
def scenarios(folder, city):
    return read_scenarios(folder / "scenarios.csv", city.settings)


@pytest.fixture(scope="module")
def compared(city, scenarios, folder):
    return compare_scenarios(city, scenarios, folder / "out", rounds=1, workers=2)


def test_a_scenario_is_what_a_plan_of_its_own_would_be(city, compared):
    outcome = pack_year(city, assess_city(city), rounds=1)
    scenario, figures = compared.found[0]
    assert scenario.settings == city.settings
    plan = outcome.plan
    assert figures.worth == pytest.approx(plan.worth, abs=1e-3)
    assert figures.bound == pytest.approx(plan.bound.value, abs=1e-3)
    assert figures.trees_planned == len(plan.tree)
    assert figures.crew_days_used == len(np.unique(plan.crew_day))
    overdue = outcome.assessment.trees["recall_state"] == "overdue"
    assert figures.overdue_planned + figures.overdue_left == overdue.sum()
    assert figures.overdue_planned == overdue.iloc[outcome.stop_row].sum()


def test_less_money_is_kept_to(compared):
    figures = {scenario.name: found for scenario, found in compared.found}
    assert figures["poor"].cost_cents <= 130_000
    assert figures["poor"].worth <= figures["poor"].bound
    assert figures["poor"].worth <= figures["as it is"].bound
    assert figures["poor"].crew_days_available == figures["as it is"].crew_days_available


def test_a_scenario_without_a_plan_says_why_and_stops_no_other(compared):
    assert compared.without_plan() == [
        ("nobody", "[[crews]]: there is no crew -> describe at least one crew")
    ]
    assert len(compared.main_figures()) == 2


def test_crew_days_that_time_did_not_reach_are_counted_and_named(tmp_path, monkeypatch):
    """A limit far too short, and no time on top of it for first routes."""
    monkeypatch.setattr(rounds, "LEAST_FOR_FIRST_ROUTES", 0.0)
    sample_city.make(tmp_path, trees=600, seed=5)
    city = open_city(tmp_path / "cycle.toml")
    ground = common_ground(city, assess_city(city))
    found = plan_scenario(ground, ScenarioTask(city.settings, 0.001, None, 1))
    figures = ScenarioFigures(**found)
    assert figures.outcome == PLANNED
    empty, there = figures.crew_days_not_packed, figures.crew_days_available
    assert 0 < empty <= there - figures.crew_days_used
    scenario = Scenario("short", city.settings, {})
    starved = Compared([(scenario, figures)], scenarios=1, interrupted=False, seconds_before=0.0)
    assert starved.not_packed() == [("short", empty, there)]
    assert dict(zip(HEADER, starved.main_figures()[0], strict=True))["not packed"] == empty
    assert starved.table()["crew_days_not_packed"].tolist() == [empty]


def test_with_time_enough_no_crew_day_stays_unpacked(compared):
    assert compared.not_packed() == []
    assert (compared.table()["crew_days_not_packed"] == 0).all()


def test_plans_far_from_the_best_are_named(compared):
    scenario, figures = compared.found[0]
    for gap, names in ((0.3, [scenario.name]), (0.05, [])):
        assert replace(
            compared, found=[(scenario, replace(figures, gap=gap))]
        ).far_from_best() == names  # fmt: skip


def test_the_written_table_has_changes_and_figures(compared, folder):
    assert (folder / "out" / "scenarios.csv").read_bytes().startswith(codecs.BOM_UTF8)
    written = pd.read_csv(folder / "out" / "scenarios.csv")
    assert written["scenario"].tolist() == ["as it is", "poor", "nobody"]
    assert written.columns.tolist() == compared.table().columns.tolist()
    assert written["budget.year_cents"].isna().tolist() == [True, False, True]
    assert (folder / "out" / "scenarios.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_processes_and_a_cluster_agree(city, scenarios, compared, tmp_path):
    expected = compared.table().drop(columns=TIMES)
    with dask_cluster(2) as dask:
        spread = compare_scenarios(
            city, scenarios, tmp_path / "spread", rounds=1, cluster=dask.address
        )
    pd.testing.assert_frame_equal(spread.table().drop(columns=TIMES), expected)


def test_only_what_is_missing_is_done_again(city, scenarios, compared, folder):
    kept = sorted((folder / "out" / "kept").iterdir())
    assert len(kept) == 3
    before = {path: path.stat().st_mtime_ns for path in kept}
    kept[1].unlink()
    again = compare_scenarios(city, scenarios, folder / "out", rounds=1, workers=1)  # 2 before
    pd.testing.assert_frame_equal(
        again.table().drop(columns=TIMES), compared.table().drop(columns=TIMES)
    )
    after = {path: path.stat().st_mtime_ns for path in (folder / "out" / "kept").iterdir()}
    assert [path for path in before if before[path] != after[path]] == [kept[1]]


def test_results_are_kept_by_what_they_depend_on(city, folder, tmp_path):
    ground = common_ground(city, assess_city(city))
    same = common_ground(open_city(folder / "cycle.toml"), assess_city(city))
    assert ground.fingerprint() == same.fingerprint()
    sample_city.make(tmp_path, trees=200, seed=6)
    other = open_city(tmp_path / "cycle.toml")
    assert common_ground(other, assess_city(other)).fingerprint() != ground.fingerprint()


def test_ctrl_c_and_the_same_command_again(folder, tmp_path):
    words = [sys.executable, "-m", "forestcycle", "compare", "cycle.toml", "scenarios.csv"]
    words += ["--out", str(tmp_path / "out"), "--rounds", "1", "--workers", "1"]
    process = subprocess.Popen(
        words, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip
    kept = tmp_path / "out" / "kept"
    for line in process.stderr:
        if line.startswith("planning scenarios"):
            break
    while not list(kept.glob("*.json")):
        assert process.poll() is None
    os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130, err
    assert "Traceback" not in err
    assert "the same command again does the others" in err
    saved = {path: json.loads(path.read_text()) for path in kept.glob("*.json")}
    assert 1 <= len(saved) < 3
    assert (tmp_path / "out" / "scenarios.csv").is_file()
    ended = run(*words[3:], cwd=folder)
    assert ended.code == 0, ended.said
    assert "as it is" in ended.out
    assert all(json.loads(path.read_text()) == value for path, value in saved.items())
    assert len(pd.read_csv(tmp_path / "out" / "scenarios.csv")) == 3


def test_no_scenario_is_a_fault(city, tmp_path):
    with pytest.raises(PlanError, match="there is no scenario"):
        compare_scenarios(city, [], tmp_path)


def test_a_forecast_counts_whole_turns():
    assert forecast_seconds(10, 4, 50, 1) == 210
    assert forecast_seconds(10, 4, 50, 16) == 10 + 4 * 4
    assert forecast_seconds(10, 4, 50, 50) == forecast_seconds(10, 4, 50, 99) == 14
