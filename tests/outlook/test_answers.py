"""Tables of answers: rows for every budget, choice and year, and years that never come."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.outlook import MEASURES, Budget, simulate_policy, solve_horizon
from forestcycle.outlook.answers import (
    BEST,
    GONE_BELOW,
    Course,
    comes_to,
    crews_table,
    margins_table,
    summary,
    wards_table,
    year_backlog_gone,
    years_table,
)
from tests.outlook.small_horizon import small_horizon

YEARS, FIRST = 4, 2027
HABIT = "worst first"


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(100, seed=2)


@pytest.fixture(scope="module")
def plans(horizon):
    poor = solve_horizon(horizon, Budget("poor", cents=(20_000,)), years=YEARS, beyond=1)
    rich = solve_horizon(horizon, Budget("rich", cents=(60_000,)), years=YEARS, beyond=1)
    return [poor, rich]


@pytest.fixture(scope="module")
def courses(horizon, plans):
    found = []
    for plan in plans:
        best = plan.trajectory
        cents = plan.budget.of_years(YEARS)
        habit = simulate_policy(
            horizon, HABIT, crew_days=best.crew_days, cents=cents, crews=best.crews
        )
        found += [Course(plan.budget.name, BEST, best), Course(plan.budget.name, HABIT, habit)]
    return found


def test_every_budget_choice_and_year_has_a_row(courses):
    table = years_table(courses, FIRST)
    assert len(table) == 2 * 2 * YEARS
    assert table["year"].unique().tolist() == [2027, 2028, 2029, 2030]
    assert set(MEASURES) < set(table.columns)
    first = table.iloc[0]
    assert (first["budget"], first["choice"]) == ("poor", BEST)
    assert first["on_recall_share"] == pytest.approx(first["on_recall"] / first["trees"])


def test_wards_add_up_to_the_city(courses):
    keys = ["budget", "choice", "year"]
    wards = wards_table(courses, FIRST).groupby(keys)[list(MEASURES)].sum()
    city = years_table(courses, FIRST).set_index(keys)[list(MEASURES)].sort_index()
    assert np.allclose(wards.sort_index(), city)


def test_crews_and_days_by_kind_add_up_to_those_of_the_year(courses, horizon):
    keys = ["budget", "choice", "year"]
    kinds = horizon.stock.crew_kinds
    crews = crews_table(courses, kinds, FIRST)
    assert set(crews["crew"]) == {kind.name for kind in kinds}
    summed = crews.groupby(keys)["crew_days"].sum().sort_index()
    city = years_table(courses, FIRST).set_index(keys)["crew_days"].sort_index()
    assert np.allclose(summed, city)


def test_a_little_more_is_worth_its_dual_value(plans, horizon):
    kinds = horizon.stock.crew_kinds
    table = margins_table(plans, kinds, FIRST).set_index(["budget", "year", "crew"])
    row = table.loc[("poor", 2028, kinds[1].name)]
    assert row["worth_per_crew_day"] == pytest.approx(plans[0].day_price[1, 1])
    assert row["worth_per_1000"] == pytest.approx(plans[0].cent_price[1] * 100_000)


def test_the_summary_adds_up_the_years(courses, plans):
    table = summary(courses, plans, FIRST).set_index(["budget", "choice"])
    years = years_table(courses, FIRST).groupby(["budget", "choice"])
    for name in ("visits", "worth_undone", "corrected", "past_correcting"):
        assert table[name].to_dict() == pytest.approx(years[name].sum().to_dict())
    assert table["peak_backlog"].to_dict() == pytest.approx(years["due_unvisited"].max().to_dict())
    assert table["gap"].notna().tolist() == [True, False, True, False]
    assert table.loc[("rich", BEST), "gap"] == plans[1].gap


def test_a_backlog_that_comes_back_was_not_gone(courses):
    found = courses[0].trajectory
    trees = found.measures["trees"]

    def with_backlog(there: str):
        """One letter per year: x where the backlog is there."""
        share = np.array([2 if letter == "x" else 0.9 for letter in there])[:, None] * GONE_BELOW
        return replace(found, measures={**found.measures, "due_unvisited": trees * share})

    assert year_backlog_gone(with_backlog("----")) == 1
    assert year_backlog_gone(with_backlog("-x--")) == 3
    assert year_backlog_gone(with_backlog("---x")) is None
    assert comes_to(with_backlog("-x--"))["peak_backlog_year"] == 2


def test_a_year_that_never_comes_is_empty_in_the_summary(courses, plans):
    found = courses[0].trajectory
    stuck = replace(found, measures={**found.measures, "due_unvisited": found.measures["trees"]})
    table = summary([Course("poor", BEST, stuck), courses[2]], plans, FIRST)
    assert table["backlog_gone_year"].isna()[0]
    assert table["peak_backlog_year"].notna().all()
