"""Air distance, for cities without a street layer."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.travel import DistanceTravel

COORDINATES = st.lists(
    st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5)), min_size=3, max_size=12
)


def travel(points: list[tuple[float, float]]) -> DistanceTravel:
    x, y = np.array(points, dtype=float).T
    return DistanceTravel(x, y, len(points) - 1, detour_factor=1.4, speed_kmh=25.0)


def test_by_hand():
    """3-4-5 triangle: 5 km x 1.4 = 7 km at 25 km/h = 16.8 minutes."""
    by_air = travel([(0, 0), (3000, 4000)])
    assert by_air.minutes([0], [1])[0, 0] == pytest.approx(16.8)
    assert by_air.metres(0, 1) == pytest.approx(7000)
    assert by_air.path(0, 1).tolist() == [[0, 0], [3000, 4000]]
    assert by_air.kind == "distance"
    assert len(by_air.unreachable) == 0


@given(COORDINATES)
def test_no_detour_is_shorter(points):
    every = np.arange(len(points))
    minutes = travel(points).minutes(every, every)
    assert (np.diag(minutes) == 0).all()
    detour = (minutes[:, :, None] + minutes[None, :, :]).min(axis=1)
    assert (minutes <= detour * (1 + 1e-12) + 1e-9).all()
