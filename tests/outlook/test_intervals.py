"""Intervals: every figure of every year and ward, and years that some draws never see."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.outlook import Budget, solve_horizon
from forestcycle.outlook.answers import CALENDAR, comes_to, year_backlog_gone
from forestcycle.outlook.intervals import intervals
from forestcycle.outlook.spreads import Spread
from forestcycle.outlook.uncertainty import (
    FIGURES,
    SHARES_OF_TREES,
    play_draws,
    ward_shares,
    yearly_figures,
)
from forestcycle.parallel import Threads
from tests.outlook.small_horizon import small_horizon

YEARS, FIRST, DRAWS = 5, 2027, 10
VARIES = {"growth": Spread("lognormal", 1.2), "minutes": Spread("lognormal", 1.3)}


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(200, seed=3)


@pytest.fixture(scope="module")
def plan(horizon):
    return solve_horizon(horizon, Budget("100 %", cents=(60_000,)), years=YEARS, beyond=2)


def draws_of(horizon, plan, spreads):
    with Threads(2) as executor:
        return play_draws(horizon, [plan], executor, draws=DRAWS, seed=1, spreads=spreads)


@pytest.fixture(scope="module")
def drawn(horizon, plan):
    return draws_of(horizon, plan, VARIES)


@pytest.fixture(scope="module")
def found(plan, drawn):
    return intervals([plan], drawn, first_year=FIRST)


def test_intervals_are_in_order(found):
    for table in (found.years, found.wards, found.summary.dropna()):
        assert (table["low"] <= table["middle"]).all()
        assert (table["middle"] <= table["high"]).all()


def test_every_figure_of_every_year_and_ward_has_its_interval(found, plan):
    wards = plan.trajectory.wards
    assert len(found.years) == YEARS * len(FIGURES)
    assert len(found.wards) == YEARS * len(SHARES_OF_TREES) * len(wards)
    years = yearly_figures(plan.trajectory).ravel()
    assert found.years["expected"].to_numpy() == pytest.approx(years)
    shares = ward_shares(plan.trajectory).ravel()
    assert found.wards["expected"].to_numpy() == pytest.approx(shares)
    assert found.years["year"].unique().tolist() == [FIRST + year for year in range(YEARS)]
    trees = found.years[found.years["figure"] == "trees"]
    assert (trees["low"] == trees["high"]).all(), "no chance fells or plants a tree"
    undone = found.years[found.years["figure"] == "worth_undone"]
    assert (undone["high"] > undone["low"]).any()


def test_the_money_of_all_years_is_added_up_draw_by_draw(found, drawn):
    money = [sum(year[FIGURES.index("cents")] for year in draw[0]["years"]) for draw in drawn]
    row = found.summary.set_index("figure").loc["cents"]
    assert row[["low", "middle", "high"]].tolist() == pytest.approx(
        np.quantile(money, (0.05, 0.5, 0.95)).tolist()
    )
    assert row["draws"] == DRAWS


def test_without_spread_all_draws_are_one(horizon, plan):
    found = intervals([plan], draws_of(horizon, plan, {}), first_year=FIRST)
    for table in (found.years, found.wards, found.summary.dropna()):
        assert table["low"].to_numpy() == pytest.approx(table["high"].to_numpy())


def test_a_backlog_that_stays_in_some_draws_is_counted_and_not_dropped(plan, drawn):
    """Ten draws by hand: gone in year 2 in seven of them, never in the other three."""
    names = list(comes_to(plan.trajectory))
    place = names.index("backlog_gone_year")

    def with_gone(year):
        played = drawn[0][0]
        figures = [*played["come_to"]]
        figures[place] = float(year)
        return [{**played, "come_to": figures}]

    by_hand = [with_gone(year) for year in [2] * 7 + [YEARS + 1] * 3]
    row = intervals([plan], by_hand, first_year=FIRST).summary.set_index("figure")
    gone = row.loc["backlog_gone_year"]
    assert (gone["never"], gone["draws"]) == (3, 10)
    assert (gone["low"], gone["middle"]) == (FIRST + 1, FIRST + 1)
    assert np.isnan(gone["high"]), "later than the last year shown"
    assert (row.drop(index=list(CALENDAR))["never"] == 0).all()


def test_a_backlog_that_stays_is_later_than_all_years(plan):
    found = plan.trajectory
    due = found.measures["trees"].copy()
    stuck = replace(found, measures={**found.measures, "due_unvisited": due})
    assert year_backlog_gone(stuck) is None
    assert comes_to(stuck)["backlog_gone_year"] == YEARS + 1
    free = replace(found, measures={**found.measures, "due_unvisited": 0 * due})
    assert comes_to(free)["backlog_gone_year"] == 1
