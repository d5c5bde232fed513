"""How fast trees change, against counts of the trees themselves."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.outlook.pace import outgrown_within, pace_of_trees
from forestcycle.outlook.states import state_space
from forestcycle.outlook.tree_sizes import lay_out_sizes, size_of_trees
from forestcycle.practice.recall import load_recall
from tests.outlook.small_horizon import facts_of_city

FACTS, ASSESSMENT = facts_of_city(400)
SIZES = lay_out_sizes(ASSESSMENT)
PACE = pace_of_trees(FACTS, ASSESSMENT, SIZES, size_of_trees(FACTS, SIZES))
SPACE = state_space(("tree",), np.array([0.0, 0.3, 0.6, 0.9]), (0, 0))


@given(limits=st.lists(st.floats(0, 1.5), min_size=1, max_size=30))
def test_faults_that_are_left_after_every_size_are_those_whose_limit_lies_beyond(limits):
    """Passing through sizes one by one outgrows as many as counting them at once."""
    limit = np.array(limits)
    left = np.cumprod(1 - outgrown_within(limit, np.ones(len(limit)), SPACE))
    beyond = [(limit >= edge).mean() for edge in SPACE.size_from[1:]]
    assert left[:-1] == pytest.approx(beyond)
    assert left[-1] == 0, "the last size has no end"


def test_trees_without_a_structural_fault_do_not_count():
    limit, structural = np.array([0.05, 0.5]), np.array([0.0, 1.0])
    assert outgrown_within(limit, structural, SPACE).tolist() == [0, 0, 0, 0, 1, 1, 1, 1]


def test_shares_are_shares_and_the_last_size_is_never_left():
    for share in (PACE.grows, PACE.outgrows, PACE.prior_share, PACE.correctable, PACE.takes_two):
        assert share.min() >= 0
        assert share.max() <= 1
    assert (PACE.grows[:, -1] == 0).all()


def test_no_recall_is_shorter_than_the_pause_after_a_visit():
    recall = load_recall(folder=ASSESSMENT.folder)
    assert PACE.least_years.tolist() == recall.least_years[SIZES.age_of_size].tolist()
    for years in (PACE.years_with_work, PACE.years_with_none):
        assert (years >= PACE.least_years).all()
    assert (PACE.years_with_none >= PACE.years_with_work).all()


def test_the_mean_growth_is_that_of_the_trees():
    """Means over all sizes, weighted by trees, come back to the mean of the city."""
    size = size_of_trees(FACTS, SIZES)
    per_tree = (PACE.grows[:, :-1] * SIZES.size_width[:-1])[FACTS.kind, np.minimum(size, 6)]
    grows = size < len(SIZES.size_from) - 1
    assert per_tree[grows].mean() == pytest.approx(FACTS.growth[grows].mean(), rel=0.05)
