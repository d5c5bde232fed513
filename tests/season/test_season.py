"""Two hundred days of a small city: books, money and promises against an independent ledger."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from forestcycle.cycle import assess_city, open_city
from tests.season.books_check import faults_of
from tests.season.season import DAYS, Season, begin, play, rows_of

RECALL = ["not_before", "due", "overdue_after", "recall_state", "dose_limit"]


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Season:
    played = begin(tmp_path_factory.mktemp("season"), trees=400, seed=2, days_per_crew=16)
    play(played, every=40)
    return played


@pytest.mark.slow
def test_something_happened(season):
    outcomes = [facts[0] for facts in season.ledger.recorded.values()]
    assert len(outcomes) > 60
    assert {"done", "partly done", "skipped"} == set(outcomes)
    assert season.ledger.refused > 5
    assert len(season.remarks) == 4
    assert (season.today - date(2027, 1, 1)).days == DAYS


@pytest.mark.slow
def test_books_money_and_promises_agree_with_the_ledger(season):
    assert faults_of(season) == []


@pytest.mark.slow
def test_the_budget_as_cut_is_kept(season):
    """What is spent and what is still planned stay within the money left by the council."""
    plan = season.plan / "plan.gpkg"
    planned = sum(cents for (cents,) in rows_of(plan, "crew_days", "cost_cents"))
    aside = rows_of(plan, "done", "cost_cents + day_cost_cents, in_plan")
    spent_aside = sum(cents for cents, in_plan in aside if not in_plan)
    budget = open_city(season.settings).settings.budget.year_cents
    assert planned + spent_aside <= budget


@pytest.mark.slow
def test_recall_from_the_books_is_recall_from_the_ledger(season):
    """The ledger's visits, given as the inventory's own, lead to the same recall and doses."""
    city = open_city(season.settings)
    before = city.inventory.visits[city.inventory.visits["visited_on"] < "2027-01-01"]
    told = pd.DataFrame(
        [(tree, day, crew, *facts) for (tree, day, crew), facts in season.ledger.recorded.items()],
        columns=["tree_id", "visited_on", "crew", "outcome", "minutes", "dose"],
    ).sample(frac=1, random_state=3)
    told = told.assign(visited_on=pd.to_datetime(told["visited_on"]), note="")
    told = told[before.columns].astype(before.dtypes)
    visits = pd.concat([before, told], ignore_index=True)
    by_ledger = replace(city, inventory=replace(city.inventory, visits=visits))
    one, two = assess_city(city).trees, assess_city(by_ledger).trees
    pd.testing.assert_frame_equal(one[RECALL], two[RECALL])
    pd.testing.assert_frame_equal(one, two)


@pytest.mark.slow
def test_a_tree_that_was_cut_rests(season):
    """Unless it must not wait, a tree cut this season may not be cut again before its rest."""
    city = open_city(season.settings)
    assessed = assess_city(city).trees.set_index("tree_id")
    untouched = replace(
        city.inventory, visits=city.inventory.visits[lambda v: v["visited_on"] < "2027-01-01"]
    )
    before = assess_city(replace(city, inventory=untouched)).trees.set_index("tree_id")
    cut = {tree: day for (tree, day, _), facts in season.ledger.worked().items() if facts[2] > 0}
    rows = assessed.loc[list(cut)]
    days = np.array(list(cut.values()), dtype="datetime64[ns]")
    urgent = rows["not_before"].to_numpy() == np.datetime64(season.today, "ns")
    assert (rows["not_before"].to_numpy()[~urgent] > days[~urgent]).all()
    assert urgent.mean() < 0.2
    assert (rows["due"] >= before.loc[list(cut), "due"])[~urgent].all()
