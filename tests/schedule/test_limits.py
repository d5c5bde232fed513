"""Money and ward shares: whatever goes in, what comes out keeps every limit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.limits import trim, within_limits
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import tiny_problem

LIMITS = ("cents over", "short of")


def broken_by_year(problem, routes):
    """Faults in money and shares alone; the routes here keep no hours."""
    return [what for what in broken_limits(problem, routes) if any(w in what for w in LIMITS)]


def dealt(problem, rng):
    """Every tree in some crew-day."""
    day = rng.integers(0, problem.crew_days, problem.trees)
    return [np.flatnonzero(day == d) for d in range(problem.crew_days)]


def limited(seed, *, mandatory=True):
    """Forty trees under a binding budget, two funds and two wards."""
    rng = np.random.default_rng(seed)
    trees, days = 40, 4
    problem = tiny_problem(
        rng,
        trees=trees,
        crew_days=days,
        plain=True,
        fund=rng.integers(-1, 2, trees),
        ward=rng.integers(-1, 2, trees),
        day_cost_cents=rng.integers(0, 1500, days),
        budget_cents=int(rng.integers(0, 20_000)),
        fund_budget_cents=rng.integers(0, 6_000, 2),
        ward_least_share=rng.uniform(0, 0.5, 2),
        mandatory=(rng.random(trees) < 0.1) & mandatory,
    )
    return problem, dealt(problem, rng)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_trim_ends_within_every_limit(seed):
    problem, routes = limited(seed)
    left = trim(problem, routes)
    assert broken_by_year(problem, left) == []
    used = np.flatnonzero([len(route) for route in left])
    assert within_limits(problem, used, np.concatenate(left))


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_trim_only_leaves_out(seed):
    """What stays is in the order it had: a shorter route takes no longer."""
    problem, routes = limited(seed)
    for before, after in zip(routes, trim(problem, routes), strict=True):
        np.testing.assert_array_equal(before[np.isin(before, after)], after)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_plan_within_its_limits_stays_as_it_is(seed):
    problem, routes = limited(seed)
    once = trim(problem, routes)
    for first, second in zip(once, trim(problem, once), strict=True):
        np.testing.assert_array_equal(first, second)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_within_limits_says_what_a_plain_count_says(seed):
    rng = np.random.default_rng(seed)
    problem, routes = limited(seed)
    routes = [route[rng.random(len(route)) < rng.random()] for route in routes]
    used = np.flatnonzero([len(route) for route in routes])
    fine = within_limits(problem, used, np.concatenate(routes))
    assert fine == (broken_by_year(problem, routes) == [])


@pytest.mark.parametrize("seed", range(20))
def test_mandatory_trees_stay_while_others_can_go(seed):
    """Money for all mandatory trees and every crew-day: none of them goes."""
    problem, routes = limited(seed)
    must = np.flatnonzero(problem.mandatory)
    problem = replace(
        problem,
        budget_cents=int(problem.cost_cents[must].sum() + problem.day_cost_cents.sum()),
        fund_budget_cents=np.array(
            [problem.cost_cents[must][problem.fund[must] == f].sum() for f in range(2)]
        ),
        ward_least_share=np.zeros(2),
    )
    left = trim(problem, routes)
    assert np.isin(must, np.concatenate(left)).all()


def test_a_fund_is_emptied_to_the_cent():
    """Worked by hand: 300 cents pay for two of three trees of 100 to 150 cents."""
    problem = tiny_problem(
        np.random.default_rng(0),
        trees=3,
        crew_days=1,
        plain=True,
        worth=np.array([1.0, 9.0, 9.0]),
        cost_cents=np.array([100, 150, 150]),
        fund=np.zeros(3, dtype=np.int64),
        fund_budget_cents=np.array([300]),
    )
    assert trim(problem, [np.array([0, 1, 2])])[0].tolist() == [1, 2]
    cent_less = replace(problem, fund_budget_cents=np.array([299]))
    assert trim(cent_less, [np.array([0, 1, 2])])[0].tolist() in ([1], [2])


def test_of_days_that_cannot_all_be_paid_those_with_most_mandatory_trees_stay():
    """Worked by hand: 1,500 cents pay for one day of 1,000 and its trees, not for two."""
    problem = tiny_problem(
        np.random.default_rng(0),
        trees=5,
        crew_days=2,
        plain=True,
        mandatory=np.ones(5, dtype=np.bool_),
        cost_cents=np.full(5, 100),
        day_cost_cents=np.full(2, 1_000),
        budget_cents=1_500,
    )
    left = trim(problem, [np.array([0, 1]), np.array([2, 3, 4])])
    assert [route.tolist() for route in left] == [[], [2, 3, 4]]
