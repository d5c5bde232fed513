"""Draws and pruning cycles from the command line: tables, page, one seed."""

import json
import re

import pandas as pd
import pytest

import sample_city
from forestcycle.outlook.uncertainty import FIGURES
from tests.cli.commands import run

WORDS = ("outlook", "cycle.toml", "--years", 3, "--budgets", "100%", "--quiet")


@pytest.fixture(scope="module")
def city(tmp_path_factory):
    folder = tmp_path_factory.mktemp("city")
    sample_city.make(folder, trees=200, seed=5)
    return folder


@pytest.fixture(scope="module")
def outlook(city):
    ended = run(*WORDS, "--draws", 4, "--cycles", "--workers", 2, "--out", "one", cwd=city)
    assert ended.code == 0, ended.said
    return city / "one"


def test_every_yearly_figure_has_its_interval(outlook):
    found = pd.read_csv(outlook / "intervals.csv")
    assert len(found) == 3 * len(FIGURES)
    assert (found["low"] <= found["high"]).all()
    years = pd.read_csv(outlook / "years.csv")
    best = years[years["choice"] == "best visits"].set_index("year")
    visits = found[found["figure"] == "visits"].set_index("year")
    assert visits["expected"].tolist() == pytest.approx(best["visits"].tolist(), abs=1e-3)


def test_what_all_years_come_to_has_its_interval_in_table_page_and_json(outlook):
    found = pd.read_csv(outlook / "summary_intervals.csv").set_index("figure")
    summary = pd.read_csv(outlook / "summary.csv").iloc[0]
    assert set(found.index) == set(summary.index) - {"budget", "choice", "gap"}
    assert (found["draws"] == 4).all()
    assert found.loc["cents", "low"] <= found.loc["cents", "high"]
    assert found.loc["cents", "expected"] == pytest.approx(summary["cents"], abs=1)
    facts = json.loads((outlook / "outlook.json").read_text(encoding="utf-8"))
    assert len(facts["summary_intervals"]) == len(found)
    gone = 4 - found.loc["backlog_gone_year", "never"]
    page = (outlook / "outlook.html").read_text(encoding="utf-8")
    assert f"by the end of 2029 in {gone} of 4 draws with the budget 100 %." in page


def test_every_ward_has_its_interval(outlook):
    found, wards = pd.read_csv(outlook / "ward_intervals.csv"), pd.read_csv(outlook / "wards.csv")
    assert set(found["ward"]) == set(wards["ward"])
    assert len(found) == 2 * len(wards[wards["choice"] == "best visits"])


def test_the_page_shows_intervals_and_cycles_as_such(outlook):
    page = (outlook / "outlook.html").read_text(encoding="utf-8")
    assert "How differently it may turn out" in page
    assert "4 draws of growth, faults, crew time and storms" in page
    assert "How long a pruning cycle" in page
    assert "costs least in all" in page
    assert json.loads((outlook / "outlook.json").read_text(encoding="utf-8"))["draws"] == 4


def test_cycles_are_a_table_of_their_own(outlook):
    found = pd.read_csv(outlook / "cycles.csv")
    assert found["cycle_years"].tolist() == list(range(1, 13))
    total = found["cost_cents"] + found["loss_cents"]
    assert found["total_cents"].tolist() == pytest.approx(total.tolist(), rel=1e-6)


def test_the_same_seed_gives_the_same_intervals(outlook, city):
    ended = run(*WORDS, "--draws", 4, "--workers", 1, "--out", "two", cwd=city)
    assert ended.code == 0, ended.said
    again = city / "two"
    assert (again / "intervals.csv").read_bytes() == (outlook / "intervals.csv").read_bytes()
    assert not (again / "cycles.csv").exists()
    assert "How long a pruning cycle" not in (again / "outlook.html").read_text(encoding="utf-8")


def test_a_target_out_of_reach_is_told_and_the_intervals_are_there(city):
    text = (city / "cycle.toml").read_text(encoding="utf-8")
    poor = re.sub(r"year_cents = \d+", "year_cents = 100000", text)
    (city / "poor.toml").write_text(poor, encoding="utf-8")
    words = ("outlook", "poor.toml", *WORDS[2:], "--target", "on recall 100% by 1")
    ended = run(*words, "--draws", 1, "--workers", 1, "--out", "far", cwd=city)
    assert ended.code != 0
    assert "clashes with 'at most" in ended.err
    assert (city / "far" / "summary_intervals.csv").exists()
