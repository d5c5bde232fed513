"""Trunk-formula values of McPherson 2007, table 2 (dollars, cut)."""

import pytest

from forestcycle.practice.trunk_value import trunk_formula_value


@pytest.mark.parametrize(
    ("basic_cost", "condition", "appraised"),
    [(4319, 0.56, 1451), (5693, 0.56, 1913), (4812, 0.64, 1848)],
)
def test_c8_c9_values_as_printed(basic_cost, condition, appraised):
    assert trunk_formula_value(basic_cost, 0.90, 0.667, condition) == appraised


def test_many_trees_at_once():
    assert list(trunk_formula_value([1000, 100], 1.0, 0.5, [0.1, 0.07])) == [50, 3]
