"""Which trees crews are likely to reach, by hand."""

import numpy as np

from forestcycle.outlook.overhead import likely_visits

WORTH = np.array([30.0, 10.0, 60.0, 90.0])
MINUTES = np.array([10.0, 10.0, 20.0, 15.0])
DUE = np.array([True, True, True, False])


def test_the_worthiest_minutes_come_first_until_crews_are_used_up():
    """3, 1 and 3 points a minute of those due: 30 minutes reach the first and the third."""
    assert likely_visits(WORTH, MINUTES, DUE, 30).tolist() == [True, False, True, False]
    assert likely_visits(WORTH, MINUTES, DUE, 1000).tolist() == DUE.tolist()


def test_one_tree_is_reached_whatever_the_crews():
    assert likely_visits(WORTH, MINUTES, DUE, 0).sum() == 1
    assert not likely_visits(WORTH, MINUTES, ~np.ones(4, dtype=bool), 100).any()
