"""What a year means: the trees' own figures first, means of their state after that."""

import numpy as np
import pytest

from forestcycle.outlook import Chances
from forestcycle.outlook.effects import effects_in_the_first_year, effects_later
from forestcycle.outlook.faults import SLIGHT_1
from forestcycle.outlook.rates import rates_of_states
from forestcycle.outlook.trajectory import MEASURE
from tests.outlook.small_horizon import small_horizon

STOCK = small_horizon(200).stock
RATES = rates_of_states(STOCK, Chances())
FIRST, LATER = effects_in_the_first_year(RATES), effects_later(RATES)
UNDONE, DONE = MEASURE["worth_undone"], MEASURE["worth_done"]


def test_worth_rises_until_overdue_no_further_and_a_visit_takes_it():
    worth = LATER.waiting[UNDONE].reshape(STOCK.states.shape)
    assert (np.diff(worth[:, :, SLIGHT_1], axis=-1) <= 1e-9).all()
    assert np.array_equal(LATER.visited[DONE], LATER.waiting[UNDONE])
    assert (LATER.visited[UNDONE] == 0).all()


def test_the_first_year_has_the_trees_own_figures():
    cells = STOCK.cells
    assert (FIRST.waiting[UNDONE] == cells.worth).all()
    assert (FIRST.minutes == cells.minutes[:, None]).all()
    assert (FIRST.cents == cells.cents[:, None]).all()
    assert np.array_equal(FIRST.open, cells.open)
    assert np.array_equal(FIRST.skill_share.argmax(axis=1), cells.skill)


def test_slower_crews_take_longer_at_every_tree_and_cost_no_more_besides():
    slow = rates_of_states(STOCK, Chances(minutes=1.5))
    for usual, slowed in ((FIRST, effects_in_the_first_year(slow)), (LATER, effects_later(slow))):
        assert slowed.minutes == pytest.approx(1.5 * usual.minutes)
        assert np.array_equal(slowed.cents, usual.cents)


def test_each_state_shares_its_visits_out_over_skills():
    assert LATER.skill_share.sum(axis=1) == pytest.approx(1)
    assert LATER.skill_share.shape == LATER.minutes.shape == (STOCK.states.count, 4)


def test_a_crown_that_still_rests_is_not_open():
    ripe = (RATES.ripeness > 0).ravel()
    assert np.array_equal(LATER.open, ripe)
    assert not ripe.all()
