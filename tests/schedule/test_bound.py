"""The bound is never below the best plan, and is the value of the program it claims to be."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from forestcycle.schedule import relaxation
from forestcycle.schedule.bound import allocate, certificate
from forestcycle.schedule.prices import Prices
from tests.schedule.exact import best_plan
from tests.schedule.tiny import TableTravel, tiny_problem

CASES, BATCHES = 300, 10
"""3,000 random problems in all, each solved by trying everything."""


@pytest.mark.parametrize("batch", range(BATCHES))
def test_no_plan_is_worth_more_than_the_bound(batch):
    rng = np.random.default_rng(batch)
    kept = 0
    for _ in range(CASES):
        problem = tiny_problem(
            rng, trees=int(rng.integers(1, 8)), crew_days=int(rng.integers(1, 4))
        )
        bound = allocate(problem)
        best = best_plan(problem, promises=bound.prices.promised)
        if best is not None:
            assert best.worth <= bound.value, problem
            kept += 1
    assert kept > CASES / 2


@pytest.mark.parametrize("seed", range(40))
def test_a_bound_without_time_is_a_bound(seed):
    problem = tiny_problem(np.random.default_rng(seed))
    hasty, best = allocate(problem, seconds=0.0), best_plan(problem)
    assert certificate(problem, hasty.prices) == pytest.approx(hasty.value, rel=1e-12)
    assert hasty.value >= allocate(problem).value * (1 - 1e-9)
    if best is not None:
        assert best.worth <= hasty.value


@pytest.mark.parametrize("seed", range(40))
def test_any_prices_prove_a_bound(seed):
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng)
    groups = allocate(problem).groups.count
    prices = Prices(
        minute=rng.exponential(0.1, groups),
        stop_minute=rng.exponential(0.1, groups) * rng.integers(0, 2),
        cent=float(rng.exponential(0.01)) if problem.budget_cents is not None else 0.0,
        fund_cent=rng.exponential(0.01, len(problem.fund_budget_cents)),
        ward_minute=rng.exponential(0.1, len(problem.ward_least_share)),
    )
    best = best_plan(problem)
    if best is not None:
        assert best.worth <= certificate(problem, prices)


@pytest.mark.parametrize("seed", range(20))
def test_the_stated_prices_give_the_stated_bound(seed):
    problem = tiny_problem(np.random.default_rng(seed), trees=12, crew_days=5)
    bound = allocate(problem)
    assert certificate(problem, bound.prices) == pytest.approx(bound.value, rel=1e-12)


@pytest.mark.parametrize("seed", range(30))
def test_bound_is_the_value_of_the_linear_program(seed, monkeypatch):
    """Against HiGHS (scipy.optimize.linprog) with a formulation of its own.

    One tree at each place, so that each bears its own parking. The stop row is
    not part of that formulation: with it, the bound may only be lower.
    """
    rng = np.random.default_rng(seed)
    n, c = 15, 3
    problem = tiny_problem(
        rng, trees=n, crew_days=c, hours_from=np.zeros(n), hours_until=np.full(n, 1440.0)
    )
    places = np.arange(n)
    trip = rng.uniform(1, 40, n)
    table = np.full((n + 1, n + 1), 0.0)
    table[:n, n] = table[n, :n] = trip / 2
    table[:n, :n] = np.abs(trip[:, None] - trip[None, :]) / 2
    problem = replace(
        problem,
        place=places,
        depot=np.full(c, n),
        travel=TableTravel(table),
        mandatory=np.zeros(n, dtype=bool),
        ward_least_share=np.zeros(0),
        ward=np.full(n, -1),
    )
    expected = _by_highs(problem, trip)
    with_stops = allocate(problem).value
    monkeypatch.setattr(relaxation, "MOST_PLACES_FOR_STOPS", 0)
    assert allocate(problem).value == pytest.approx(expected, rel=1e-6)
    assert with_stops <= expected * (1 + 1e-6)


def _by_highs(problem, trip):
    n, c = problem.trees, problem.crew_days
    x = np.arange(n * c).reshape(n, c)
    rows, limits = [], []

    def row(entries, limit):
        line = np.zeros(n * c + c)
        for column, value in entries:
            line[column] += value
        rows.append(line)
        limits.append(limit)

    upper = np.zeros(n * c + c)
    upper[n * c :] = 1.0
    for i in range(n):
        row([(x[i, d], 1.0) for d in range(c)], 1.0)
        for d in range(c):
            capacity = problem.capacity_minutes[d]
            needed = trip[i] + problem.parking_minutes + problem.service_minutes[i]
            able = problem.skill[i] & ~problem.crew_skill[d] == 0
            is_open = problem.open_on[problem.window[i], problem.date[d]]
            upper[x[i, d]] = float(able and is_open and needed <= capacity)
    for d in range(c):
        capacity = problem.capacity_minutes[d]
        with np.errstate(divide="ignore"):
            fold = np.where(trip < capacity, capacity / (capacity - trip), 1.0)
        weight = (problem.service_minutes + problem.parking_minutes) * fold
        row([*zip(x[:, d], weight, strict=True), (n * c + d, -capacity)], 0.0)
    if problem.budget_cents is not None:
        costs = [(x[i, d], problem.cost_cents[i]) for i in range(n) for d in range(c)]
        days = [(n * c + d, problem.day_cost_cents[d]) for d in range(c)]
        row([*costs, *days], problem.budget_cents)
    for number, budget in enumerate(problem.fund_budget_cents):
        mine = np.flatnonzero(problem.fund == number)
        row([(x[i, d], problem.cost_cents[i]) for i in mine for d in range(c)], budget)
    objective = -np.concatenate([np.repeat(problem.worth, c), np.zeros(c)])
    result = linprog(
        objective,
        A_ub=np.array(rows),
        b_ub=limits,
        bounds=list(zip(np.zeros_like(upper), upper, strict=True)),
    )
    assert result.status == 0
    return -result.fun


def test_a_broken_triangle_inequality_is_reported():
    problem = tiny_problem(np.random.default_rng(0), plain=True)
    table = problem.travel.table.copy() + 1.0
    table[0, -1] += 100.0
    bound = allocate(replace(problem, travel=TableTravel(table)))
    assert not bound.certified


def test_travel_from_air_distance_is_not_certified():
    problem = tiny_problem(np.random.default_rng(0), plain=True)
    estimated = TableTravel(problem.travel.table, kind="distance")
    assert allocate(problem).certified
    assert not allocate(replace(problem, travel=estimated)).certified


def test_a_tree_out_of_reach_is_named():
    problem = tiny_problem(np.random.default_rng(3), plain=True, trees=5)
    problem = replace(problem, service_minutes=np.array([10.0, 10, 1000, 10, 10]))
    assert 2 in allocate(problem).unreachable


def test_promises_that_cannot_be_kept_are_given_up():
    problem = tiny_problem(np.random.default_rng(5), plain=True, trees=8, crew_days=1)
    problem = replace(
        problem,
        mandatory=np.ones(8, dtype=bool),
        service_minutes=np.full(8, 50.0),
        capacity_minutes=np.array([200.0]),
    )
    bound = allocate(problem)
    assert not bound.prices.promised
    assert best_plan(problem, promises=False).worth <= bound.value
