"""The plan while it is being made: who holds which tree."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.bound import allocate
from forestcycle.schedule.draft import Draft, first_draft
from forestcycle.schedule.territory import may_visit
from tests.schedule.tiny import tiny_problem


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_every_tree_is_held_by_the_route_it_is_in(seed):
    """Whatever routes are laid over others, in whatever portions."""
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=20, crew_days=4, plain=True)
    draft = Draft(problem)
    routes = {}
    for _ in range(5):
        days = np.flatnonzero(rng.random(4) < 0.6)
        kept = [tree for day, trees in routes.items() if day not in days for tree in trees]
        free = rng.permutation(np.setdiff1d(np.arange(20), kept))
        parts = np.array_split(free[: rng.integers(0, len(free) + 1)], max(len(days), 1))
        laid = {int(day): part for day, part in zip(days, parts, strict=False)}
        routes |= laid
        draft.lay(laid)
        holder = np.full(20, -1)
        for day, trees in routes.items():
            holder[trees] = day
        np.testing.assert_array_equal(draft.day_of_tree, holder)
        assert sorted(draft.planned()) == sorted(np.flatnonzero(holder >= 0))


def test_a_crew_day_is_where_its_trees_are():
    problem = tiny_problem(np.random.default_rng(4), trees=6, crew_days=2, plain=True)
    draft = Draft(problem)
    before = draft.centres.copy()
    draft.lay({1: np.array([0, 3])})
    assert draft.centres[1] == pytest.approx([problem.x[[0, 3]].mean(), problem.y[[0, 3]].mean()])
    np.testing.assert_array_equal(draft.centres[0], before[0])
    draft.lay({1: np.empty(0, dtype=np.int64)})
    assert np.isfinite(draft.centres).all()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_first_draft_deals_trees_to_crew_days_that_may_visit_them(seed):
    problem = tiny_problem(np.random.default_rng(seed), trees=30, crew_days=4)
    draft = first_draft(problem, allocate(problem))
    held = np.flatnonzero(draft.day_of_tree >= 0)
    allowed = may_visit(problem, np.arange(4), held)
    assert allowed[draft.day_of_tree[held], np.arange(len(held))].all()
    assert len(draft.planned()) == 0
