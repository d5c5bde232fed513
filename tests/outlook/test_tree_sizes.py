"""The size of a tree fits its trunk and its age class; where they differ the class decides."""

import numpy as np

from forestcycle.outlook.facts import KINDS
from forestcycle.outlook.tree_sizes import lay_out_sizes, size_of_trees
from tests.outlook.small_horizon import facts_of_city

FACTS, ASSESSMENT = facts_of_city(400)
SPACE = lay_out_sizes(ASSESSMENT)


def test_kinds_and_sizes_have_a_single_clock():
    assert SPACE.kinds == KINDS
    assert SPACE.shape[3] == 1


def test_every_tree_lies_in_a_size_of_its_age_class():
    size = size_of_trees(FACTS, SPACE)
    assert (SPACE.age_of_size[size] == FACTS.age_class).all()


def test_the_trunk_decides_within_the_age_class():
    size = size_of_trees(FACTS, SPACE)
    by_trunk = SPACE.size_of(FACTS.relative_diameter)
    own = SPACE.age_of_size[by_trunk] == FACTS.age_class
    assert own.mean() > 0.8
    assert (size[own] == by_trunk[own]).all()
    young_by_planting = ~own & (FACTS.age_class < SPACE.age_of_size[by_trunk])
    last = np.searchsorted(SPACE.age_of_size, FACTS.age_class, side="right") - 1
    assert (size[young_by_planting] == last[young_by_planting]).all()
