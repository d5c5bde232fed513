"""Whole plans: limits, optima of small cities, one seed, the clock, a lone interruption."""

import time

import numpy as np
import pytest

from forestcycle.errors import PlanError
from forestcycle.schedule import solve
from tests.benchmarks.invented_problem import check_plan, even_city
from tests.schedule.exact import best_plan
from tests.schedule.tiny import tiny_problem


def plan_or_none(problem, **changes):
    try:
        return solve(problem, rounds=3, seed=1, **changes)
    except PlanError:
        return None


def test_small_cities_are_packed_as_well_as_can_be():
    """Plain enumeration of 8 trees and 2 crew-days, with and without limits.

    With money or wards the search goes by prices and may miss the optimum by a tree; nine
    in ten must be exact.
    """
    exact = 0
    for seed in range(30):
        problem = tiny_problem(np.random.default_rng(seed), trees=8, plain=seed < 15)
        best, plan = best_plan(problem), plan_or_none(problem)
        if best is None or plan is None:
            assert best is None, f"seed {seed}: a plan exists but none was found"
            exact += plan is None
            continue
        assert plan.worth <= best.worth + 1e-6
        exact += plan.worth >= best.worth - 1e-6
        if seed < 15:
            assert plan.worth == pytest.approx(best.worth), f"seed {seed}"
    assert exact >= 27


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


def test_the_clock_is_kept():
    problem = even_city(600, 12, 4)
    began = time.monotonic()
    plan = solve(problem, seconds=6, seed=1)
    assert time.monotonic() - began < 12  # far above the promise: machines may be busy
    assert len(plan.tree)


def test_an_interruption_gives_the_best_plan_so_far():
    problem = even_city(600, 12, 4)

    def stop_in_the_second_round(step):
        if step.stage == "packing" and step.done == 2:
            raise KeyboardInterrupt

    plan = solve(problem, rounds=50, seed=1, progress=stop_in_the_second_round)
    assert plan.interrupted
    assert check_plan(problem, plan) > 0.9 * plan.bound.value
