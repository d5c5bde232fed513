"""Cells lose no tree, no minute and no cent, and hold only trees that are alike."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.outlook.cells import RATE_STEP, count_cells, expected_faults, rate_step
from forestcycle.outlook.faults import NO_RECORD, PAST, UPKEEP
from forestcycle.outlook.pace import pace_of_trees
from forestcycle.outlook.tree_sizes import lay_out_sizes, size_of_trees
from tests.outlook.small_horizon import facts_of_city

FACTS, ASSESSMENT = facts_of_city(400)
SIZES = lay_out_sizes(ASSESSMENT)
SIZE = size_of_trees(FACTS, SIZES)
PACE = pace_of_trees(FACTS, ASSESSMENT, SIZES, SIZE)
WARD = np.arange(400) % 3
ALL_SKILLS, GROUND_ONLY = 0b1111, 0b0001


def cells(skills=ALL_SKILLS):
    return count_cells(
        FACTS, ASSESSMENT, SIZES, size=SIZE, ward=WARD, pace=PACE, skills=skills
    )  # fmt: skip


def test_nothing_is_lost_in_counting():
    found, trees = cells(), ASSESSMENT.trees
    assert found.trees.sum() == len(trees)
    assert np.bincount(found.ward, found.trees).tolist() == np.bincount(WARD).tolist()
    for mean, column in (
        (found.worth, "priority"),
        (found.minutes, "minutes"),
        (found.cents, "cost_cents"),
        (found.dose_owed, "dose_needed"),
    ):
        assert (mean * found.trees).sum() == pytest.approx(trees[column].sum())


def test_a_visit_that_no_crew_can_make_is_not_open():
    found, every = cells(GROUND_ONLY), cells()
    assert not found.open[found.skill > 0].any()
    assert found.open[found.skill == 0].any()
    assert every.open[every.skill > 0].any()


@given(rate=st.floats(1e-5, 1e4), ratio=st.floats(1, 2))
def test_rates_of_one_step_differ_by_no_more_than_it_says(rate, ratio):
    first, second = rate_step(np.array([rate, rate * ratio]))
    if first == second:
        assert ratio <= (1 + RATE_STEP) * (1 + 1e-9)
    else:
        assert second > first


def test_faults_on_record_are_certain_and_others_a_chance():
    found = expected_faults(FACTS, SIZE, PACE)
    known = ~np.isin(FACTS.fault, (NO_RECORD, UPKEEP, PAST))
    assert known.any()
    assert (found[known] == 1).all()
    assert (found[np.isin(FACTS.fault, (UPKEEP, PAST))] == 0).all()
    unknown = FACTS.fault == NO_RECORD
    chance = PACE.prior_share[FACTS.kind, SIZE] * PACE.correctable[FACTS.kind, SIZE]
    assert found[unknown] == pytest.approx((chance * FACTS.built_up)[unknown])
