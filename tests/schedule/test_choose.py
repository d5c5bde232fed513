"""The choice among candidate crew-days, against trying every combination."""

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule import choose as module
from forestcycle.schedule.choose import Column, Effort, choose
from forestcycle.schedule.limits import within_limits
from tests.schedule.tiny import tiny_problem

ENOUGH = Effort(seconds=None, work=5.0, workers=1, seed=1)


def offered(seed, *, limits):
    """Three crew-days with three short candidate routes each, over eight trees."""
    rng = np.random.default_rng(seed)
    money = {
        "fund": rng.integers(-1, 1, 8),
        "ward": rng.integers(-1, 1, 8),
        "day_cost_cents": rng.integers(0, 800, 3),
        "budget_cents": int(rng.integers(500, 5000)),
        "fund_budget_cents": rng.integers(300, 2000, 1),
        "ward_least_share": rng.uniform(0, 0.4, 1),
    }
    problem = tiny_problem(rng, trees=8, crew_days=3, plain=True, **(money if limits else {}))
    columns = [
        Column(day, tuple(rng.permutation(8)[: rng.integers(1, 4)].tolist()))
        for day in range(3)
        for _ in range(3)
    ]
    return problem, columns


ALIKE_IN = ("depot", "crew_skill", "capacity_minutes", "day_cost_cents")


def swapped(problem, columns):
    """The columns, and the same for every crew-day that is like theirs."""
    kind = [tuple(getattr(problem, name)[day] for name in ALIKE_IN) for day in range(3)]
    return sorted(
        {
            Column(day, column.trees)
            for column in columns
            for day in range(3)
            if kind[day] == kind[column.crew_day]
        },
        key=lambda column: (column.crew_day, column.trees),
    )


def is_allowed(problem, chosen):
    assert len({column.crew_day for column in chosen}) == len(chosen)
    trees = np.array([tree for column in chosen for tree in column.trees], dtype=np.int64)
    days = np.array([column.crew_day for column in chosen], dtype=np.int64)
    return len(set(trees)) == len(trees) and within_limits(problem, days, trees)


def worth_of(problem, chosen):
    return sum(problem.worth[list(column.trees)].sum() for column in chosen)


def shorter(column):
    """The column and all that is left of it when stops are left out."""
    return [
        Column(column.crew_day, trees)
        for count in range(1, len(column.trees) + 1)
        for trees in combinations(column.trees, count)
    ]


def best_choice(problem, columns, *, loose):
    """Worth of the best combination of at most one column per crew-day."""
    by_day = [[None], [None], [None]]
    for column in swapped(problem, columns):
        by_day[column.crew_day] += shorter(column) if loose else [column]
    picks = ([c for c in pick if c is not None] for pick in product(*by_day))
    return max(worth_of(problem, pick) for pick in picks if is_allowed(problem, pick))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_without_limits_columns_are_taken_whole(seed):
    problem, columns = offered(seed, limits=False)
    chosen = choose(problem, columns, [], ENOUGH)
    assert set(chosen) <= set(swapped(problem, columns))
    assert is_allowed(problem, chosen)
    assert worth_of(problem, chosen) == pytest.approx(
        best_choice(problem, columns, loose=False), rel=1e-4
    )


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_under_limits_stops_may_be_left_out(seed):
    problem, columns = offered(seed, limits=True)
    chosen = choose(problem, columns, [], ENOUGH)
    assert is_allowed(problem, chosen)
    every = {short for column in swapped(problem, columns) for short in shorter(column)}
    assert set(chosen) <= every
    assert worth_of(problem, chosen) == pytest.approx(
        best_choice(problem, columns, loose=True), rel=1e-4, abs=1e-4
    )


@pytest.mark.parametrize("seed", range(15))
def test_where_trees_are_many_columns_are_taken_whole(seed, monkeypatch):
    monkeypatch.setattr(module, "MOST_LOOSE_STOPS", 0)
    problem, columns = offered(seed, limits=True)
    chosen = choose(problem, columns, columns[:1], ENOUGH)
    assert set(chosen) <= set(swapped(problem, columns))
    assert is_allowed(problem, chosen)
    assert worth_of(problem, chosen) == pytest.approx(
        best_choice(problem, columns, loose=False), rel=1e-4, abs=1e-4
    )


def test_a_mandatory_tree_counts_more_than_all_worth():
    must = np.arange(8) == 0
    problem = tiny_problem(
        np.random.default_rng(1),
        trees=8,
        crew_days=1,
        plain=True,
        mandatory=must,
        worth=np.where(must, 0.1, 9.0),
    )
    poor, rich = Column(0, (0,)), Column(0, (1, 2, 3))
    assert choose(problem, [rich, poor], [rich], ENOUGH) == [poor]


def test_nothing_offered_is_nothing_chosen():
    problem, _ = offered(1, limits=True)
    assert choose(problem, [], [], ENOUGH) == []
