"""Taking stock of a city: all trees, wards with their ways, clocks as far as they matter."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.outlook.pace import Pace
from forestcycle.outlook.states import state_space
from forestcycle.outlook.stock import with_clocks
from tests.outlook.small_horizon import ALL_SKILLS, GROUND, small_horizon


@pytest.fixture(scope="module")
def stock():
    return small_horizon(200, wards=3).stock


def test_every_tree_is_there(stock):
    assert stock.trees == 200
    assert stock.crew_kinds == (GROUND, ALL_SKILLS)


def test_wards_without_a_figure_take_the_citys_minutes(stock):
    assert dict(zip(stock.wards, stock.overhead, strict=True)) == {
        "Ward 0": 3.0,
        "Ward 1": 6.0,
        "Ward 2": 3.0,
    }


def test_clocks_reach_from_the_longest_recall_to_where_being_late_counts_no_more():
    """Due again in 5.2 years at most: the last clock is 5; 2 spans of 1.5 years late: -3."""
    sizes = state_space(("tree",), np.array([0.0, 0.3, 0.6, 0.9]), (0, 0))
    each = np.ones((1, 8))
    pace = Pace(*(each,) * 7, 3.1 * each, 5.2 * each, np.ones(8), np.full(8, 1.5))
    found = with_clocks(sizes, pace, 2.0)
    assert found == replace(sizes, first_clock=-3, last_clock=5)


def test_the_trees_states_lie_within_the_clocks(stock):
    longest = max(stock.pace.years_with_none.max(), stock.pace.years_with_work.max())
    assert stock.states.last_clock == np.ceil(longest) - 1
    assert stock.cells.state.max() < stock.states.count
