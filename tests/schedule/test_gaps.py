"""Trees that still fit are put in, within every limit, and nothing makes way for them."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.schedule.gaps import with_gaps_filled
from forestcycle.schedule.left_out import LeftOut, left_out_reasons
from forestcycle.schedule.plan import Plan
from tests.schedule.recheck import broken_limits, routes_of
from tests.schedule.tiny import odd_problem

NOTHING = np.empty(0, dtype=np.int64)
EMPTY = Plan(NOTHING, NOTHING, NOTHING, 0.0, None, interrupted=False, rounds=0, seconds=0.0, seed=0)


@pytest.mark.parametrize("seed", range(60))
def test_an_empty_plan_is_filled_until_nothing_fits(seed):
    """Reasons have a look of their own at what could still be placed."""
    problem = odd_problem(np.random.default_rng(seed), trees=20, crew_days=3)
    plan = with_gaps_filled(problem, EMPTY)
    assert broken_limits(problem, routes_of(problem, plan)) == []
    assert plan.worth == pytest.approx(problem.worth[plan.tree].sum())
    if not len(problem.ward_least_share):  # with shares, one tree may make another possible
        left_out = np.setdiff1d(np.arange(problem.trees), plan.tree)
        words, _ = left_out_reasons(problem, plan, left_out)
        assert str(LeftOut.SEARCH) not in words.tolist()


@pytest.mark.parametrize("seed", range(20))
def test_no_stop_makes_way(seed):
    problem = odd_problem(np.random.default_rng(seed), trees=20, crew_days=3)
    plan = with_gaps_filled(problem, EMPTY)
    kept = np.arange(len(plan.tree)) % 2 == 0
    some = replace(plan, crew_day=plan.crew_day[kept], order=plan.order[kept], tree=plan.tree[kept])
    filled = with_gaps_filled(problem, some)
    assert np.isin(some.tree, filled.tree).all()
    days = dict(zip(filled.tree.tolist(), filled.crew_day.tolist(), strict=True))
    assert [days[tree] for tree in some.tree.tolist()] == some.crew_day.tolist()


def test_without_time_nothing_is_tried():
    problem = odd_problem(np.random.default_rng(1), trees=20, crew_days=3)
    assert len(with_gaps_filled(problem, EMPTY, seconds=0.0).tree) == 0
