"""What a visit is like by state: shares that add up, and means within what trees need."""

import numpy as np
import pytest

from forestcycle.outlook.tree_sizes import lay_out_sizes, size_of_trees
from forestcycle.outlook.visit_means import means_of_visits
from forestcycle.practice.labour import load_labour
from tests.outlook.small_horizon import facts_of_city

FACTS, ASSESSMENT = facts_of_city(400)
SIZES = lay_out_sizes(ASSESSMENT)
SIZE = size_of_trees(FACTS, SIZES)
MEANS = means_of_visits(FACTS, ASSESSMENT, SIZES, SIZE)
TREES = ASSESSMENT.trees


def test_each_visit_needs_one_skill():
    assert MEANS.skill_share.sum(axis=-1) == pytest.approx(1)
    assert MEANS.skill_share.min() >= 0


def test_no_visit_is_shorter_than_a_look():
    labour = load_labour(folder=ASSESSMENT.folder)
    assert MEANS.minutes.min() >= labour.inspection_minutes + labour.ground_setup_minutes


def test_means_lie_within_what_the_trees_have():
    for mean, column in (
        (MEANS.minutes, "minutes"),
        (MEANS.cents, "cost_cents"),
        (MEANS.dose_owed, "dose_needed"),
    ):
        assert mean.max() <= TREES[column].max() * (1 + 1e-9)
    assert MEANS.points.min() >= 0


def test_the_visits_of_the_whole_city_take_what_its_trees_take():
    """Visited as often as there are trees, states come back to the city's minutes."""
    there = (FACTS.kind, SIZE, FACTS.fault)
    visited = TREES["minutes"].to_numpy() > 0
    minutes = (MEANS.skill_share[there] * MEANS.minutes[there]).sum(axis=1)
    assert minutes[visited].mean() == pytest.approx(TREES["minutes"][visited].mean(), rel=0.1)
    assert np.isfinite(minutes).all()
