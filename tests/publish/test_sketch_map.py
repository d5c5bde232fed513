"""The paper map: everything in view, scale bar true."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.sketch_map import LEAST_METRES, frame_around, scale_bar

BOX = (34.0, 100.0, 527.0, 262.0)
places = st.lists(
    st.tuples(st.floats(0, 20_000), st.floats(0, 20_000)), min_size=1, max_size=30
).map(np.array)


@given(places)
def test_all_stops_are_in_view(points):
    frame = frame_around(points, BOX)
    assert frame.ground.buffer(1e-6).covers(shapely.multipoints(points))
    placed = frame.place(points)
    assert (placed >= np.array(BOX[:2]) - 1e-6).all()
    assert (placed <= np.array(BOX[:2]) + np.array(BOX[2:]) + 1e-6).all()


def test_a_single_stop_shows_its_neighbourhood():
    frame = frame_around(np.array([[5.0, 5.0]]), BOX)
    assert min(frame.width, frame.height) / frame.scale == pytest.approx(LEAST_METRES)


@given(st.floats(5, 50_000))
def test_scale_bar_is_round_and_not_too_long(most):
    metres, text = scale_bar(most, "metric")
    assert most / 2.6 <= metres <= most * (1 + 1e-9)
    value, unit = text.split()
    assert float(value) * {"m": 1, "km": 1000}[unit] == pytest.approx(metres)


@given(st.floats(5, 50_000))
def test_us_scale_bar_says_what_it_measures(most):
    metres, text = scale_bar(most, "us")
    value, unit = text.split()
    # NIST Special Publication 811: 1 ft = 0.3048 m, 1 mi = 1609.344 m.
    assert float(value) * {"ft": 0.3048, "mi": 1609.344}[unit] == pytest.approx(metres)
