"""Whole plans: the bound, one seed, a clock, an interruption; optima are in test_small_cities."""

import numpy as np
import pytest

from forestcycle.schedule import solve
from tests.benchmarks.invented_problem import check_plan, even_city


def test_the_bound_holds_and_is_near_in_a_dense_city():
    problem = even_city(1_000, 10, 3)
    plan = solve(problem, rounds=3, seed=1)
    assert check_plan(problem, plan) == pytest.approx(plan.worth)
    assert plan.worth <= plan.bound.value
    assert plan.gap < 0.05


def test_one_seed_gives_one_plan_whatever_the_workers():
    problem = even_city(600, 12, 4)
    plans = [solve(problem, rounds=2, seed=5, workers=workers) for workers in (1, 2, 3)]
    for plan in plans[1:]:
        np.testing.assert_array_equal(plan.tree, plans[0].tree)
        np.testing.assert_array_equal(plan.crew_day, plans[0].crew_day)


def test_a_clock_limit_gives_a_plan_and_stops():
    """That it stops in time is measured by the benchmark ``clock``."""
    problem = even_city(600, 12, 4)
    plan = solve(problem, seconds=2, seed=1)
    assert check_plan(problem, plan) == pytest.approx(plan.worth)
    assert not plan.interrupted


def test_an_interruption_gives_the_best_plan_so_far():
    problem = even_city(600, 12, 4)

    def stop_in_the_second_round(step):
        if step.stage == "packing" and step.done == 2:
            raise KeyboardInterrupt

    plan = solve(problem, rounds=50, seed=1, progress=stop_in_the_second_round)
    assert plan.interrupted
    assert check_plan(problem, plan) > 0.9 * plan.bound.value
