"""The paper map: everything in view."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.sketch_frame import LEAST_METRES, frame_around, frame_of_day, lines_path

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


def test_the_whole_way_is_shown_unless_the_depot_is_far():
    stops = np.array([[0.0, 0.0], [1000.0, 500.0]])
    near = shapely.LineString([(-100, 0), *stops, (-100, 0)])
    far = shapely.LineString([(-9000, 0), *stops, (-9000, 0)])
    assert frame_of_day(stops, near, BOX).ground.covers(near)
    assert frame_of_day(stops, far, BOX) == frame_around(stops, BOX)
    assert frame_of_day(stops, None, BOX) == frame_around(stops, BOX)


def test_lines_begin_where_they_are_said_to():
    """Operators m and l move to a point and draw a line to one (ISO 32000-1, table 59)."""
    points = np.array([[0.0, 0.126], [10.0, -5.0], [7.0, 7.0], [8.0, 8.0], [9.0, 8.0]])
    path = lines_path(points, np.array([True, False, True, False, False]))
    assert path.getCode() == "n 0.00 0.13 m 10.00 -5.00 l 7.00 7.00 m 8.00 8.00 l 9.00 8.00 l"
    assert lines_path(np.empty((0, 2)), np.empty(0, dtype=bool)).getCode() == "n"
