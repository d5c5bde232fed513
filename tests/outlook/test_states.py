"""The block of states: sizes by age class, and clocks held at either end."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.outlook.states import SIZES_PER_AGE, state_space
from forestcycle.practice.assessment import AGE_CLASSES

AGE_FROM = np.array([0.0, 0.3, 0.6, 0.9])
SPACE = state_space(("small", "large"), AGE_FROM, (-3, 5))


def test_each_age_class_is_cut_into_even_sizes():
    assert SPACE.size_from == pytest.approx([0, 0.1, 0.2, 0.3, 0.45, 0.6, 0.75, 0.9])
    assert np.bincount(SPACE.age_of_size).tolist() == list(SIZES_PER_AGE)
    assert len(AGE_CLASSES) == len(SIZES_PER_AGE)
    assert SPACE.size_width[-1] == np.inf
    assert SPACE.size_of(np.array([0.0, 0.0999, 0.1, 0.89, 7.0])).tolist() == [0, 0, 1, 6, 7]


@given(clock=st.integers(-50, 50))
def test_a_state_is_found_again_and_clocks_beyond_the_ends_are_held(clock):
    place = SPACE.index(*(np.array([value]) for value in (1, 2, 3, clock)))
    kind, size, fault, found = (axis[0] for axis in np.unravel_index(place, SPACE.shape))
    assert (kind, size, fault) == (1, 2, 3)
    assert SPACE.clock[found] == min(max(clock, -3), 5)


def test_the_count_is_that_of_the_block():
    assert SPACE.count == 2 * 8 * 8 * 9
