"""Figures over wards, and shares where there is nothing to share."""

import numpy as np
import pytest

from forestcycle.outlook.trajectory import MEASURE, MEASURES, Trajectory


@pytest.fixture
def found():
    """Two years and two wards; the second has no young tree."""
    measures = {name: np.zeros((2, 2)) for name in MEASURES}
    measures["young"] = np.array([[4.0, 0.0], [10.0, 0.0]])
    measures["young_on_recall"] = np.array([[1.0, 0.0], [5.0, 0.0]])
    return Trajectory(("A", "B"), measures, np.ones((2, 1)), np.ones((2, 1)), np.array([5.0, 6.0]))


def test_the_city_is_the_sum_of_its_wards(found):
    assert found.years == 2
    assert found.city("young").tolist() == [4, 10]


def test_a_share_of_nothing_is_all_of_it(found):
    assert found.share("young_on_recall", "young").tolist() == [0.25, 0.5]
    assert found.ward_share("young_on_recall", "young").tolist() == [[0.25, 1], [0.5, 1]]


def test_every_measure_has_its_place():
    assert [name for name, _ in sorted(MEASURE.items(), key=lambda item: item[1])] == list(MEASURES)
