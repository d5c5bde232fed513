"""Of equal worth, fewer crew-days; nothing is given up and no limit broken."""

from itertools import permutations

import numpy as np
import pytest

from forestcycle.schedule import solve
from forestcycle.schedule.fewer_days import with_fewer_days
from forestcycle.schedule.mandatory import fits
from tests.schedule.exact import best_plan
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import tiny_problem


@pytest.mark.parametrize("seed", range(25))
def test_the_same_trees_on_no_more_days_within_all_limits(seed):
    problem = tiny_problem(
        np.random.default_rng(seed), trees=7, crew_days=3, mandatory=np.zeros(7, dtype=np.bool_)
    )
    best = best_plan(problem)
    routes = [np.array(_in_order(problem, day, trees)) for day, trees in enumerate(best.trees)]
    fewer = with_fewer_days(problem, routes)
    assert sorted(np.concatenate(fewer)) == sorted(np.concatenate(routes))
    assert sum(map(bool, map(len, fewer))) <= sum(map(bool, map(len, routes)))
    assert broken_limits(problem, fewer) == []


def _in_order(problem, day, trees):
    """An order that keeps the crew-day's limits, by trying all."""
    tries = (np.array(order, dtype=np.int64) for order in permutations(trees))
    return next((order for order in tries if not len(order) or fits(problem, day, order)), [])


def test_two_half_days_become_one():
    """Two trees of an hour that one crew-day of four hours can both visit."""
    problem = tiny_problem(
        np.random.default_rng(1),
        trees=2,
        plain=True,
        service_minutes=np.full(2, 60.0),
        capacity_minutes=np.full(2, 400.0),
    )
    fewer = with_fewer_days(problem, [np.array([0]), np.array([1])])
    assert sorted(map(len, fewer)) == [0, 2]


def test_days_without_cost_are_not_used_needlessly():
    problem = tiny_problem(
        np.random.default_rng(4),
        trees=20,
        crew_days=6,
        plain=True,
        service_minutes=np.full(20, 10.0),
        capacity_minutes=np.full(6, 2_000.0),
        day_cost_cents=np.zeros(6, dtype=np.int64),
    )
    plan = solve(problem, rounds=2, seed=1)
    assert plan.worth == pytest.approx(problem.worth.sum())
    assert len(np.unique(plan.crew_day)) == 1
