"""All is said only of all, and none only of none."""

import pytest

from forestcycle.publish.shares import percentage


@pytest.mark.parametrize(
    ("share", "written"),
    [
        (1.0, "100"), (0.9988, "99.9"), (0.99999, "99.9"), (0.995, "99.5"), (0.994, "99"),
        (0.35, "35"), (0.006, "1"), (0.004, "0.4"), (0.00001, "0.1"), (0.0, "0"), (1.2, "120"),
    ],
)  # fmt: skip
def test_percentages(share, written):
    assert percentage(share) == written
