"""A plan that costs too much gives up what is worth least."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.limits import cost_of, trim
from tests.schedule.tiny import tiny_problem


def plain(*, day_cost: int, tree_cost: int, budget: int, days: int = 3, each: int = 20):
    trees = days * each
    return tiny_problem(
        np.random.default_rng(1),
        trees=trees,
        crew_days=days,
        plain=True,
        worth=np.ones(trees),
        cost_cents=np.full(trees, tree_cost),
        day_cost_cents=np.full(days, day_cost),
        budget_cents=budget,
    )


def test_a_day_goes_rather_than_most_trees_of_all_days():
    """Worked by hand: three days of 1000 and sixty trees of 10 cost 3600.

    To save 400 takes forty trees, or one day with its twenty trees.
    """
    problem = plain(day_cost=1000, tree_cost=10, budget=3200)
    routes = np.split(np.arange(60), 3)
    left = trim(problem, routes)
    assert sorted(len(route) for route in left) == [0, 20, 20]


def test_a_few_trees_go_rather_than_a_day():
    """To save 30 takes three trees."""
    problem = plain(day_cost=1000, tree_cost=10, budget=3570)
    left = trim(problem, np.split(np.arange(60), 3))
    assert sum(map(len, left)) == 57


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2000), st.integers(1, 100), st.integers(0, 8000))
def test_the_budget_is_kept(day_cost, tree_cost, budget):
    problem = plain(day_cost=day_cost, tree_cost=tree_cost, budget=budget)
    left = trim(problem, np.split(np.arange(60), 3))
    used = np.flatnonzero([len(route) for route in left])
    assert cost_of(problem, used, np.concatenate(left)) <= budget
