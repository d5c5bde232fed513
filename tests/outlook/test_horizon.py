"""The dynamics put together: trees stay as many, whatever is done with them."""

import numpy as np
import pytest

from forestcycle.errors import SettingsError
from forestcycle.outlook import Chances, look_ahead
from tests.outlook.small_horizon import small_horizon


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(200)


def test_ten_years_of_visits_and_waiting_keep_every_tree(horizon):
    stand = np.zeros(horizon.stock.states.count)
    np.add.at(stand, horizon.stock.cells.state, horizon.stock.cells.trees)
    for year in range(10):
        visited = stand * horizon.later.open * (year % 3 == 0)
        stand = horizon.waiting.T @ (stand - visited) + horizon.visiting.T @ visited
        assert stand.sum() == pytest.approx(horizon.stock.trees)


def test_the_first_year_is_told_by_cell_and_later_ones_by_state(horizon):
    assert horizon.first_year.waiting.shape[1] == len(horizon.stock.cells.state)
    assert horizon.later.waiting.shape[1] == horizon.stock.states.count


def test_chances_that_move_more_than_all_trees_are_refused(horizon):
    with pytest.raises(SettingsError, match="growth factor"):
        look_ahead(horizon.stock, Chances(growth=60.0))
