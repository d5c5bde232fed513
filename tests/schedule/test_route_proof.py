"""The verifier finds the bound on sets of routes again, and sees through a lower one."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.schedule.bound import allocate
from forestcycle.schedule.route_evidence import route_evidence
from forestcycle.schedule.routes import Work, tighten
from forestcycle.schedule.verification.files import read_plan
from forestcycle.schedule.verification.gain_limit import Day, may_exceed
from forestcycle.schedule.verification.proof import bound_of_prices
from forestcycle.schedule.verification.route_proof import bound_of_routes
from forestcycle.schedule.verify import verify
from tests.schedule.written_plan import (
    SETTINGS,
    greedy_plan,
    invented_problem,
    invented_trees,
    plan_tables,
    with_fact,
    write_plan,
)

TREES, SEED, SLOW_KMH = 110, 3, 5.0


@pytest.fixture(scope="module")
def routed():
    """Tables of a plan with long ways, whose bound rests on routes, and the bound."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(SETTINGS["travel"], "speed_kmh", SLOW_KMH)
        return tables_and_bound()


def tables_and_bound():
    trees = invented_trees(TREES, SEED)
    problem = invented_problem(trees, SEED)
    tables = plan_tables(TREES, SEED)
    bound = tighten(problem, allocate(problem), [], Work(None, trials=40)).bound
    plan = replace(greedy_plan(problem), bound=bound)
    ids = tables["prices"].loc[tables["prices"]["kind"] == "group", "key"].tolist()
    depots = dict(enumerate(["North yard", "South yard"], int(problem.depot.min())))
    evidence = route_evidence(problem, plan, ids, trees["tree_id"].tolist(), depots)
    return with_fact(tables | evidence, "bound", repr(bound.value)), bound


def test_the_bound_is_found_again_from_the_files(tmp_path, routed):
    tables, bound = routed
    plan = read_plan(write_plan(tmp_path, tables))
    assert bound_of_routes(plan) == pytest.approx(bound.value, rel=1e-6)
    assert bound_of_routes(plan) < 0.995 * bound_of_prices(plan)
    assert verify(tmp_path).ok


def with_prices(tables, kind, change):
    prices = tables["route_prices"].copy()
    rows = prices["kind"] == kind
    prices.loc[rows, "price"] = change(prices.loc[rows, "price"])
    return tables | {"route_prices": prices}


@pytest.mark.parametrize("kind", ["crew-day", "tree"])
def test_prices_made_smaller_prove_nothing(tmp_path, routed, kind):
    tables = with_prices(routed[0], kind, lambda price: price * 0.9)
    write_plan(tmp_path, tables)
    assert bound_of_routes(read_plan(tmp_path)) == np.inf
    assert "the prices prove only" in verify(tmp_path).faults[0].what


def test_a_price_below_zero_proves_nothing(tmp_path, routed):
    tables = with_prices(routed[0], "tree", lambda price: price - 5.0)
    assert bound_of_routes(read_plan(write_plan(tmp_path, tables))) == np.inf


def test_a_missing_way_is_no_way(tmp_path, routed):
    """Fewer ways only lower what routes can gain; the stated prices still prove the bound."""
    tables = routed[0] | {"ways": routed[0]["ways"].iloc[::2]}
    plan = read_plan(write_plan(tmp_path, tables))
    assert bound_of_routes(plan) == pytest.approx(routed[1].value, rel=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_the_best_route_by_plain_enumeration_is_the_least_claim(seed):
    rng = np.random.default_rng(seed)
    m = 7
    place = np.sort(rng.integers(0, m, m))
    place = np.unique(place, return_inverse=True)[1]
    spots, depot = rng.uniform(0, 60, (m, 2)), rng.uniform(0, 60, 2)
    at = spots[place]
    between = np.hypot(*(at[:, None] - at[None, :]).transpose(2, 0, 1))
    home = np.hypot(*(at - depot).T)
    work = rng.uniform(5, 40, m)
    kept = 2 * home + work <= 150
    day = Day(
        np.unique(place[kept], return_inverse=True)[1].astype(np.int64),
        between[np.ix_(kept, kept)],
        home[kept],
        home[kept].copy(),
        work[kept],
        rng.uniform(1, 10, m)[kept],
        150.0,
    )
    best = best_gain(day)
    assert not may_exceed(day, best + 1e-6)
    assert may_exceed(day, best - 1e-6) == bool(kept.any())


def best_gain(day):
    """Try every order of every set of trees."""
    best = 0.0
    partial = [((j,), day.out[j] + day.work[j]) for j in range(len(day.gain))]
    while partial:
        route, clock = partial.pop()
        if clock + day.home[route[-1]] > day.minutes:
            continue
        best = max(best, day.gain[list(route)].sum())
        partial += [
            ((*route, j), clock + day.between[route[-1], j] + day.work[j])
            for j in range(len(day.gain))
            if j not in route
        ]
    return best
