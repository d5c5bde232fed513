"""The outlook of the sample city: its first year beside the plan, its files, its refusals."""

import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forestcycle.cycle import open_city
from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.outlook import crew_kinds
from forestcycle.cycle.plan import pack_year, plan_layers
from forestcycle.outlook import (
    Budget,
    load_chances,
    look_ahead,
    solve_horizon,
    take_stock,
)
from forestcycle.outlook.overhead import measured_overhead
from tests.cli.commands import run
from tests.conftest import ROOT

ABOVE_THE_BOUND, BELOW_THE_PLAN = 0.01, 0.0
OF_VISITS, OF_MINUTES, OF_MONEY = 0.08, 0.08, 0.02
WITH_THE_FUTURE_IN_VIEW = 0.08


@pytest.fixture(scope="module")
def planned():
    """The sample city, assessed and packed, with the horizon made from the same assessment."""
    city = open_city(ROOT / "sample_city" / "cycle.toml")
    assessment = assess_city(city)
    # By rounds and not by the clock: on a busy machine seconds are not enough for a full year.
    outcome = pack_year(city, assessment, rounds=2, seed=1)
    layers = plan_layers(outcome)
    overhead = measured_overhead(layers["stops"], layers["crew_days"])
    stock = take_stock(city.inventory, assessment, crew_kinds(city.settings), overhead)
    return city, outcome, layers, look_ahead(stock, load_chances())


def first_year(planned, *, years: int, beyond: int):
    city, _, _, horizon = planned
    budget = Budget("present", cents=(city.settings.budget.year_cents,))
    return solve_horizon(horizon, budget, years=years, beyond=beyond).trajectory


def test_the_first_year_alone_ties_with_the_plan(planned):
    """Between the plan and the plan's own proven bound, in visits, minutes and money alike."""
    _, outcome, layers, _ = planned
    found = first_year(planned, years=1, beyond=0)
    worth, days = float(found.city("worth_done")[0]), layers["crew_days"]
    assert worth >= outcome.plan.worth * (1 - BELOW_THE_PLAN)
    assert worth <= outcome.plan.bound.value * (1 + ABOVE_THE_BOUND)
    visits, minutes = len(layers["stops"]), days["service_minutes"] + days["travel_minutes"]
    assert found.city("visits")[0] == pytest.approx(visits, rel=OF_VISITS)
    assert found.city("minutes")[0] == pytest.approx(minutes.sum(), rel=OF_MINUTES)
    assert found.cents[0] == pytest.approx(days["cost_cents"].sum(), rel=OF_MONEY)


def test_with_the_years_after_it_in_view_the_first_year_stays_near_the_plan(planned):
    _, outcome, layers, _ = planned
    found = first_year(planned, years=3, beyond=2)
    worth = float(found.city("worth_done")[0])
    assert worth == pytest.approx(outcome.plan.worth, rel=WITH_THE_FUTURE_IN_VIEW)
    assert worth <= outcome.plan.bound.value * (1 + ABOVE_THE_BOUND)
    assert found.city("visits")[0] == pytest.approx(len(layers["stops"]), rel=2 * OF_VISITS)


def test_every_tree_of_the_assessment_is_in_the_stock(planned):
    city, outcome, _, horizon = planned
    trees = outcome.assessment.trees
    assert horizon.stock.trees == len(city.inventory.trees)
    cells = horizon.stock.cells
    assert (cells.worth * cells.trees).sum() == pytest.approx(trees["priority"].sum())


def outlook(tmp_path: Path, *words: str):
    return run(
        "outlook",
        ROOT / "sample_city" / "cycle.toml",
        "--quiet",
        "--out",
        tmp_path / "outlook",
        *words,
        cwd=tmp_path,
    )


def test_the_command_writes_tables_figures_and_a_page_without_network(tmp_path):
    ended = outlook(tmp_path, "--years", "3", "--budgets", "70%,100%")
    assert ended.code == 0, ended.said
    folder = tmp_path / "outlook"
    years = pd.read_csv(folder / "years.csv", encoding="utf-8-sig")
    assert set(years["budget"]) == {"70 %", "100 %"}
    assert set(years["year"]) == {2027, 2028, 2029}
    assert len(years) == 2 * 4 * 3
    wards = pd.read_csv(folder / "wards.csv", encoding="utf-8-sig")
    summed = wards.groupby(["budget", "choice", "year"])["visits"].sum()
    shown = years.set_index(["budget", "choice", "year"])["visits"]
    assert np.allclose(summed.sort_index(), shown.sort_index(), atol=0.01)
    facts = json.loads((folder / "outlook.json").read_text())
    assert [budget["budget"] for budget in facts["budgets"]] == ["70 %", "100 %"]
    assert all(budget["bound"] <= budget["loss"] for budget in facts["budgets"])
    page = (folder / "outlook.html").read_text()
    assert "default-src 'none'" in page
    assert not re.search(r"(src|href)=\"https?:", page)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--years", "0"), "0 years cannot be looked ahead"),
        (("--years", "31"), "31 years cannot be looked ahead"),
        (("--budgets", "8500000"), "is it in cents?"),
        (("--budgets", "some"), "'some' is not a budget"),
    ],
)
def test_what_cannot_be_meant_is_refused_before_any_work(tmp_path, words, said):
    ended = outlook(tmp_path, *words)
    assert ended.code == 2
    assert said in ended.err
    assert not (tmp_path / "outlook").exists()
