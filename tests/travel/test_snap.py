"""Trees go to the nearest spot of any street, not to a crossing."""

import numpy as np
import shapely

from forestcycle.travel.snap import join_snapped, snap
from forestcycle.travel.streets import build_streets
from tests.travel.networks import geodanet, layer


def test_spots_are_shapelys_nearest():
    streets = geodanet()
    graph = build_streets(streets, speed_kmh=30.0)
    west, south, east, north = streets.total_bounds
    random = np.random.default_rng(4)
    x, y = random.uniform(west, east, 300), random.uniform(south, north, 300)
    at = snap(x, y, graph)
    network = shapely.union_all(streets.geometry.to_numpy())
    np.testing.assert_allclose(at.metres_off, shapely.distance(shapely.points(x, y), network))
    spot_x, spot_y = graph.points_on(at.edge, at.offset)
    np.testing.assert_allclose(np.hypot(x - spot_x, y - spot_y), at.metres_off, atol=1e-6)


def test_a_tree_half_way_is_put_half_way():
    graph = build_streets(layer([(0, 0), (100, 0)]), speed_kmh=30.0)
    at = snap(np.array([40.0, -5.0]), np.array([6.0, 0.0]), graph)
    assert at.offset.tolist() == [40, 0]
    assert at.metres_off.tolist() == [6, 5]


def test_between_equals_the_first_street_is_taken():
    graph = build_streets(layer([(0, 0), (100, 0)], [(0, 10), (100, 10)]), speed_kmh=30.0)
    assert snap(np.array([50.0]), np.array([5.0]), graph).edge.tolist() == [0]


def test_no_trees_no_spots():
    graph = build_streets(layer([(0, 0), (100, 0)]), speed_kmh=30.0)
    nothing = snap(np.array([]), np.array([]), graph)
    assert len(nothing) == 0
    assert len(join_snapped(nothing, snap(np.array([1.0]), np.array([1.0]), graph))) == 1
