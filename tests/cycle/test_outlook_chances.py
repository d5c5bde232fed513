"""Draws and pruning cycles from the command line: tables, page, one seed."""

import json

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


def test_the_page_shows_intervals_and_cycles_as_such(outlook):
    page = (outlook / "outlook.html").read_text(encoding="utf-8")
    assert "How far it may come otherwise" in page
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
