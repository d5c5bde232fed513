"""The reason given for a tree left out is what would happen if it were forced in."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.schedule.bound import allocate
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.reasons import LeftOut, free_minutes, left_out_reasons
from tests.schedule.exact import best_plan
from tests.schedule.tiny import tiny_problem
from tests.schedule.written_plan import greedy_plan, invented_problem, invented_trees


def plan_of(problem, days):
    """The exact best plan, written as the packer writes one."""
    rows = [(day, k, tree) for day, trees in enumerate(days) for k, tree in enumerate(trees)]
    crew_day, order, tree = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    worth = float(problem.worth[tree].sum())
    return Plan(
        crew_day,
        order,
        tree,
        worth,
        allocate(problem),
        interrupted=False,
        rounds=1,
        seconds=0.0,
        seed=1,
    )


@pytest.mark.parametrize("seed", range(60))
def test_forcing_a_left_out_tree_in_gains_nothing(seed):
    """Make it mandatory: the best plan then is worth no more, or there is none."""
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=7, mandatory=np.zeros(7, dtype=bool))
    best = best_plan(problem)
    plan = plan_of(problem, best.trees)
    left_out = np.setdiff1d(np.arange(7), plan.tree)
    words, texts = left_out_reasons(problem, plan, left_out)
    assert all(words)
    assert all(text.endswith(".") for text in texts)
    for tree, word in zip(left_out, words, strict=True):
        forced = best_plan(replace(problem, mandatory=np.arange(7) == tree))
        assert forced is None or forced.worth <= best.worth + 1e-9
        if word in (LeftOut.PRICE, LeftOut.COST):
            assert plan.bound.surplus[tree] <= 0


@pytest.mark.parametrize("seed", range(5))
def test_money_and_minutes_reasons_are_true(seed):
    trees = invented_trees(160, seed)
    problem = invented_problem(trees, seed)
    plan = greedy_plan(problem)
    left_out = np.setdiff1d(np.arange(160), plan.tree)
    words, _ = left_out_reasons(problem, plan, left_out)
    free = free_minutes(problem, plan)
    assert (free >= -1e-9).all()
    spent = problem.cost_cents[plan.tree].sum()
    spent += problem.day_cost_cents[np.unique(plan.crew_day)].sum()
    for tree, word in zip(left_out, words, strict=True):
        able = (problem.skill[tree] & ~problem.crew_skill) == 0
        is_open = able & problem.open_on[problem.window[tree], problem.date]
        if word == LeftOut.BUDGET:
            assert problem.cost_cents[tree] > problem.budget_cents - spent
        if word == LeftOut.FULL:
            assert problem.service_minutes[tree] > free[is_open].max(initial=0.0)


def test_a_tree_that_would_fit_is_not_said_to_be_kept_out():
    problem = tiny_problem(np.random.default_rng(1), plain=True, trees=4)
    problem = replace(
        problem,
        service_minutes=np.full(4, 1.0),
        capacity_minutes=np.full(2, 400.0),
        parking_minutes=0.0,
    )
    words, texts = left_out_reasons(problem, plan_of(problem, ((0, 1), ())), np.array([2, 3]))
    assert set(words) == {str(LeftOut.SEARCH)}
    assert all("could still be placed" in text for text in texts)
