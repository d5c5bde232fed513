"""The bound by sets of routes is never below the best plan, nor above that of the allocation."""

import numpy as np
import pytest

from forestcycle.schedule import allocate
from forestcycle.schedule.relaxation import relax
from forestcycle.schedule.route_limits import as_rows, shared_limits
from forestcycle.schedule.route_pricing import Stage, price_crew_day
from forestcycle.schedule.route_stops import stops_of_groups
from forestcycle.schedule.routes import MOST_TREES, Work, applies, tighten
from tests.schedule.exact import best_plan
from tests.schedule.tiny import tiny_problem

CASES, BATCHES = 50, 4
"""200 random problems in all; ``python -m tests.schedule.many_routes`` tries thousands."""
NO_CLOCK = Work(seconds=None, trials=60)


def check_case(seed):
    """Gap of both bounds to plain enumeration; None where nothing can be done."""
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=int(rng.integers(1, 9)), crew_days=int(rng.integers(1, 4)))
    allocated = allocate(problem)
    tightened = tighten(problem, allocated, [], NO_CLOCK).bound
    assert tightened.value <= allocated.value, seed
    best = best_plan(problem, promises=allocated.prices.promised)
    if best is None:
        return None
    assert best.worth <= tightened.value, seed
    if not best.worth:
        return None
    return 1 - best.worth / allocated.value, 1 - best.worth / tightened.value


@pytest.mark.parametrize("batch", range(BATCHES))
def test_no_plan_is_worth_more_than_the_bound(batch):
    gaps = [check_case(seed) for seed in range(batch * CASES, (batch + 1) * CASES)]
    before, after = np.mean([gap for gap in gaps if gap is not None], axis=0)
    assert after < 0.8 * before


@pytest.mark.parametrize("seed", range(25))
def test_any_prices_prove_a_bound(seed):
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=8, crew_days=2)
    allocated = allocate(problem)
    best = best_plan(problem, promises=allocated.prices.promised)
    if best is None:
        return
    limits = shared_limits(problem, allocated.groups, promised=allocated.prices.promised)
    rows = rng.exponential(0.3, len(limits.most)) * limits.scale
    gain, charge = problem.worth - limits.per_tree.T @ rows, limits.per_day.T @ rows
    trees = relax(problem, allocated.groups)
    stops = stops_of_groups(problem, allocated.groups, trees)
    for stage in (Stage.GRID, Stage.PROOF):
        most = [
            price_crew_day(tree, there, gain[tree], charge[g], 0.0, stage)[0]
            for g, (tree, there) in enumerate(stops)
        ]
        assert best.worth <= limits.most @ rows + allocated.groups.days @ most + 1e-9


def test_the_same_work_gives_the_same_bound():
    problem = tiny_problem(np.random.default_rng(8), trees=40, crew_days=6, plain=True)
    bound = allocate(problem)
    one = tighten(problem, bound, [], Work(None, trials=20, workers=1))
    two = tighten(problem, bound, [], Work(None, trials=20, workers=2))
    assert one.bound.value == two.bound.value
    assert one.routes == two.routes
    assert one.bound.value < bound.value


def test_the_stated_prices_are_those_of_the_bound():
    problem = tiny_problem(np.random.default_rng(8), trees=40, crew_days=6, plain=True)
    bound = tighten(problem, allocate(problem), [], NO_CLOCK).bound
    rows = as_rows(bound.routes.tree, bound.routes)
    limits = shared_limits(problem, bound.groups, promised=True)
    value = limits.most @ rows + bound.groups.days @ bound.routes.crew_day
    assert value == pytest.approx(bound.value, rel=1e-6)


def test_many_trees_keep_the_bound_of_the_allocation():
    problem = tiny_problem(np.random.default_rng(1), trees=MOST_TREES + 1, crew_days=2, plain=True)
    assert not applies(problem)
