"""One model for few trees, against plain enumeration."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.schedule.limits import cost_of
from forestcycle.schedule.one_model import Goal, solve_as_one
from tests.schedule.exact import best_plan
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import tiny_problem

WORK = 20.0


@pytest.mark.parametrize("seed", range(40))
def test_most_worth_is_that_of_plain_enumeration(seed):
    problem = tiny_problem(np.random.default_rng(seed), trees=6)
    best, answer = best_plan(problem), solve_as_one(problem, Goal.WORTH, work=WORK)
    if best is None:
        assert answer.none_exists
        return
    assert broken_limits(problem, answer.routes) == []
    assert answer.value == pytest.approx(best.worth, abs=1e-5)
    assert answer.proven >= best.worth - 1e-6


def with_promises(seed, trees=6):
    """Three promised trees, enough minutes, and days that cost something."""
    rng = np.random.default_rng(seed)
    return tiny_problem(
        rng,
        trees=trees,
        plain=True,
        mandatory=np.arange(trees) < 3,
        capacity_minutes=np.array([150.0, 200.0]),
        day_cost_cents=rng.integers(100, 900, 2),
        budget_cents=1,
    )


@pytest.mark.parametrize("seed", range(15))
def test_the_least_cost_is_enough_and_a_cent_less_is_not(seed):
    problem = with_promises(seed)
    answer = solve_as_one(problem, Goal.CENTS, work=WORK)
    if best_plan(replace(problem, budget_cents=None)) is None:
        assert answer.none_exists
        return
    used = np.flatnonzero([len(route) > 0 for route in answer.routes])
    assert answer.value == cost_of(problem, used, np.concatenate(answer.routes)) == answer.proven
    assert best_plan(replace(problem, budget_cents=int(answer.value))) is not None
    assert best_plan(replace(problem, budget_cents=int(answer.value) - 1)) is None
