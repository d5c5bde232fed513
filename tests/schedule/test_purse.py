"""The price of money in the rounds, and the best plan so far."""

import numpy as np
import pytest

from forestcycle.schedule.draft import Draft
from forestcycle.schedule.purse import LARGEST_STEP, LEAST_STEP, Purse
from tests.schedule.tiny import tiny_problem


def city(**changes):
    """Ten trees of 100 cents and worth 1 to 10; two crew-days of 200 cents."""
    fields = {
        "worth": np.arange(1.0, 11.0),
        "cost_cents": np.full(10, 100),
        "day_cost_cents": np.full(2, 200),
        "budget_cents": 1000,
    }
    return tiny_problem(
        np.random.default_rng(0), trees=10, crew_days=2, plain=True, **(fields | changes)
    )


def looked(problem, *rounds):
    """A purse that has seen these routes, one pair a round."""
    purse, draft = Purse(problem), Draft(problem)
    for routes in rounds:
        draft.lay({day: np.array(route, dtype=np.int64) for day, route in enumerate(routes)})
        purse.look(draft)
    return purse, draft


def test_the_best_plan_keeps_the_budget():
    """Worked by hand: 1000 cents pay for two days and six trees, or one day and eight."""
    purse, _ = looked(city(), (list(range(5)), list(range(5, 10))))
    assert purse.worth == sum(range(5, 11))
    assert sorted(np.concatenate(purse.best)) == list(range(4, 10))


def test_a_worse_round_does_not_replace_a_better_one():
    purse, _ = looked(city(), ([9, 8], [7]), ([0], []))
    assert [route.tolist() for route in purse.best] == [[9, 8], [7]]
    assert purse.worth == 10 + 9 + 8


def test_promised_trees_come_before_worth():
    must = np.arange(10) == 0
    purse, _ = looked(city(mandatory=must), ([9, 8], [7]), ([0], []))
    assert [route.tolist() for route in purse.best] == [[0], []]


def test_money_gets_dearer_when_overspent_and_cheaper_when_left():
    over, _ = looked(city(), (list(range(5)), list(range(5, 10))))
    under, _ = looked(city(), ([9], []))
    assert over.thrift == LARGEST_STEP
    assert under.thrift == LEAST_STEP
    exact, _ = looked(city(), ([4, 5, 6], [7, 8, 9]))
    assert exact.thrift == pytest.approx(1.0)


def test_without_a_budget_money_has_no_say():
    purse, draft = looked(city(budget_cents=None), (list(range(5)), list(range(5, 10))))
    purse.settle(draft)
    assert purse.thrift == 1.0
    assert purse.open_days.all()
    assert purse.worth == 55


def test_crew_days_beyond_the_money_are_closed():
    """One day and four trees leave 100 cents of 700: no second day of 200."""
    purse, draft = looked(city(budget_cents=700), ([9, 8, 7, 6], []))
    purse.settle(draft)
    assert purse.open_days.tolist() == [True, False]
    richer, draft = looked(city(budget_cents=800), ([9, 8, 7, 6], []))
    richer.settle(draft)
    assert richer.open_days.tolist() == [True, True]


def test_settling_goes_on_from_the_best_plan():
    purse, draft = looked(city(), ([9, 8], [7]), ([0], []))
    purse.settle(draft)
    assert [route.tolist() for route in draft.routes] == [[9, 8], [7]]


def test_no_money_at_all_is_an_empty_plan():
    purse, draft = looked(city(budget_cents=0), ([9, 8], [7]))
    purse.settle(draft)
    assert purse.worth == 0
    assert all(len(route) == 0 for route in purse.best)
