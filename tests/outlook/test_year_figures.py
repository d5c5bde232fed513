"""A year's figures per tree add up: on recall or overdue, corrected or still there."""

import numpy as np
import pytest

from forestcycle.outlook import Chances
from forestcycle.outlook.faults import GRAVE_3, NO_RECORD, SLIGHT_1, SLIGHT_2
from forestcycle.outlook.rates import rates_of_states
from forestcycle.outlook.trajectory import MEASURES
from forestcycle.outlook.year_figures import year_figures
from tests.outlook.small_horizon import small_horizon

STOCK = small_horizon(200).stock
RATES = rates_of_states(STOCK, Chances())
SPACE = STOCK.states
WORTH, DOSE = 7.0, 0.3


@pytest.fixture(scope="module")
def figures():
    """Waiting and visited, by name and with the axes of the states."""
    every = np.ones(SPACE.count)
    both = year_figures(
        RATES,
        np.arange(SPACE.count),
        worth=WORTH * every,
        dose_owed=DOSE * every,
        faults=RATES.faults.ravel(),
    )
    return [
        dict(zip(MEASURES, found.reshape(-1, *SPACE.shape), strict=True)) for found in both
    ]  # fmt: skip


def test_worth_is_done_or_undone(figures):
    waiting, visited = figures
    assert (waiting["worth_undone"] == WORTH).all()
    assert (visited["worth_done"] == WORTH).all()
    for found in figures:
        assert (found["worth_done"] + found["worth_undone"] == WORTH).all()
    assert (visited["visits"] - waiting["visits"] == 1).all()


def test_a_tree_is_on_recall_or_overdue_and_a_visit_ends_that(figures):
    waiting, visited = figures
    for found in figures:
        assert (found["on_recall"] + found["overdue"] == 1).all()
        assert (found["young_on_recall"] <= found["young"]).all()
    assert (visited["on_recall"] == 1).all()
    late = waiting["overdue"] == 1
    assert late.any()
    assert (RATES.late_spans[late] > 1).all()


def test_a_fault_is_corrected_or_outgrown_or_still_there(figures):
    waiting, visited = figures
    assert (waiting["structural"] + waiting["past_correcting"]) == pytest.approx(RATES.faults)
    assert (visited["structural"] + visited["corrected"]) == pytest.approx(RATES.faults)
    assert (visited["past_correcting"] == 0).all()
    assert (visited["corrected"][:, :, SLIGHT_1] == 1).all()
    assert (visited["corrected"][:, :, SLIGHT_2] == 0).all()


def test_a_visit_takes_one_visits_dose(figures):
    waiting, visited = figures
    assert (waiting["dose_owed"] == DOSE).all()
    for fault, left in ((NO_RECORD, 0), (SLIGHT_1, 0), (SLIGHT_2, 1 / 2), (GRAVE_3, 2 / 3)):
        assert visited["dose_owed"][:, :, fault] == pytest.approx(DOSE * left)


def test_the_backlog_is_what_is_due_and_not_visited(figures):
    waiting, visited = figures
    due = np.broadcast_to(SPACE.clock <= 0, SPACE.shape)
    assert np.array_equal(waiting["due_unvisited"] == 1, due)
    assert (visited["due_unvisited"] == 0).all()
