"""What is known of each tree: one fault by its record, its visits and its limit."""

import numpy as np
import pytest

from forestcycle.outlook.facts import KINDS, OUTGROWN_FROM, is_structural
from forestcycle.outlook.faults import (
    CORRECTABLE,
    GRAVE_1,
    GRAVE_FROM,
    NO_RECORD,
    PAST,
    SLIGHT_1,
    SLIGHT_2,
    UPKEEP,
)
from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.conductors import needs_line_clearance
from tests.outlook.small_horizon import facts_of_city
from tests.practice.random_city import random_city

TREES = 2_000
FACTS, ASSESSMENT = facts_of_city(TREES)
TABLE = ASSESSMENT.trees
VISITS, SEVERITY = TABLE["visits_needed"].to_numpy(), TABLE["severity"].to_numpy()


def test_the_random_city_has_every_fault_or_nearly():
    assert len(np.unique(FACTS.fault)) >= 7


def test_trees_without_a_record_and_without_work_have_none():
    none = TABLE["defects_are_prior"].to_numpy(bool) | (VISITS == 0)
    assert np.array_equal(FACTS.fault == NO_RECORD, none)


def test_what_no_tree_outgrows_is_upkeep():
    catalogue = load_catalogue()
    limit = catalogue.defects["correctable_to"].to_numpy()
    assert np.array_equal(is_structural(catalogue), limit < OUTGROWN_FROM)
    assert np.isnan(FACTS.outgrown_at[FACTS.fault == UPKEEP]).all()


def test_a_fault_past_correcting_lies_beyond_its_limit_and_others_do_not():
    past = FACTS.fault == PAST
    assert past.any()
    assert (FACTS.relative_diameter[past] > FACTS.outgrown_at[past]).all()
    still = CORRECTABLE[FACTS.fault] == 1
    assert (FACTS.relative_diameter[still] <= FACTS.outgrown_at[still]).all()


def test_faults_are_told_apart_by_severity_and_visits():
    slight = np.isin(FACTS.fault, (SLIGHT_1, SLIGHT_2))
    assert (SEVERITY[slight] < GRAVE_FROM).all()
    grave = (CORRECTABLE[FACTS.fault] == 1) & ~slight
    assert (SEVERITY[grave] >= GRAVE_FROM).all()
    assert (VISITS[FACTS.fault == SLIGHT_1] == 1).all()
    assert (VISITS[FACTS.fault == GRAVE_1] == 1).all()


def test_kinds_near_conductors_are_for_qualified_crews():
    near = np.array([KINDS[kind].endswith("near conductors") for kind in FACTS.kind])
    inventory = random_city(TREES, 0)
    assert np.array_equal(near, needs_line_clearance(inventory.trees["conductors"]))
    palms = np.array([KINDS[kind].startswith("palms") for kind in FACTS.kind])
    assert np.array_equal(palms, (inventory.trees["species"] == "Washingtonia robusta").to_numpy())


def test_shares_are_shares_and_due_is_counted_from_the_years_end():
    for share in (FACTS.ripeness, FACTS.built_up, FACTS.prior_share):
        assert share.min() >= 0
        assert share.max() <= 1
    assert (FACTS.built_up[~TABLE["defects_are_prior"].to_numpy(bool)] == 1).all()
    days = (TABLE["due"] - np.datetime64("2027-12-31")).dt.days.to_numpy()
    assert FACTS.years_to_due == pytest.approx(days / 365.25, abs=0.003)
