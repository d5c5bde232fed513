"""Stretches of streets are drawn as they are driven."""

from forestcycle.travel.route import Stretch, draw
from forestcycle.travel.streets import build_streets
from tests.travel.networks import layer


def test_bends_within_a_stretch_are_kept_in_driving_order():
    graph = build_streets(layer([(0, 0), (10, 0), (10, 10), (20, 10)]), speed_kmh=30.0)
    assert draw(graph, [Stretch(0, 5, 25)]).tolist() == [[5, 0], [10, 0], [10, 10], [15, 10]]
    assert draw(graph, [Stretch(0, 25, 5)]).tolist() == [[15, 10], [10, 10], [10, 0], [5, 0]]


def test_where_stretches_meet_the_point_is_drawn_once():
    graph = build_streets(layer([(0, 0), (10, 0)], [(10, 0), (10, 10)]), speed_kmh=30.0)
    way = draw(graph, [Stretch(0, 4, 10), Stretch(1, 0, 10)])
    assert way.tolist() == [[4, 0], [10, 0], [10, 10]]


def test_standing_still_is_one_point():
    graph = build_streets(layer([(0, 0), (10, 0)]), speed_kmh=30.0)
    assert draw(graph, [Stretch(0, 4, 4)]).tolist() == [[4, 0]]
