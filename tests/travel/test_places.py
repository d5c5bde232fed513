"""Who shares a parking place."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.travel.places import group_places
from forestcycle.travel.snap import snap
from forestcycle.travel.streets import build_streets
from tests.travel.networks import layer, random_grid


def test_both_sides_of_a_block_share_and_blocks_do_not():
    graph = build_streets(layer([(0, 0), (100, 0)], [(100, 0), (200, 0)]), speed_kmh=30.0)
    x = np.array([70.0, 80.0, 85.0, 105.0, 110.0])
    y = np.array([6.0, -6.0, 6.0, 6.0, -6.0])
    places = group_places(x, y, graph, metres=30)
    assert len(places) == 2
    assert places.of_tree.tolist() == [0, 0, 0, 1, 1]
    assert places.x.tolist() == [77.5, 107.5]
    assert places.y.tolist() == [0, 0]


def test_a_long_block_is_split_evenly():
    graph = build_streets(layer([(0, 0), (300, 0)]), speed_kmh=30.0)
    x = np.arange(5.0, 300.0, 10.0)
    places = group_places(x, np.full(30, 5.0), graph, metres=30)
    assert np.bincount(places.of_tree).tolist() == [6, 6, 6, 6, 6]


def test_park_trees_group_on_the_ground():
    graph = build_streets(layer([(0, 0), (300, 0)]), speed_kmh=30.0)
    x, y = np.array([10.0, 100.0, 102.0]), np.array([4.0, 120.0, 121.0])
    places = group_places(x, y, graph, metres=30)
    assert places.of_tree.tolist() == [0, 1, 1]
    assert places.on_street.metres_off.tolist() == [0, 120.5]
    assert places.x.tolist() == [10, 101]


def test_at_no_reach_every_spot_is_a_place():
    x, y = np.array([1.0, 5.0, 5.0]), np.array([2.0, 2.0, 2.0])
    graph = build_streets(layer([(0, 0), (300, 0)]), speed_kmh=30.0)
    assert len(group_places(x, y, None, metres=0)) == 2
    assert len(group_places(x, y, graph, metres=0)) == 2


def test_no_trees_no_places():
    graph = build_streets(layer([(0, 0), (300, 0)]), speed_kmh=30.0)
    assert len(group_places(np.array([]), np.array([]), graph, metres=30)) == 0
    assert len(group_places(np.array([]), np.array([]), None, metres=30)) == 0


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    metres=st.floats(0, 100),
    on_streets=st.booleans(),
)
def test_every_tree_is_within_reach_and_order_does_not_matter(seed, metres, on_streets):
    random = np.random.default_rng(seed)
    graph = build_streets(random_grid(seed), speed_kmh=30.0) if on_streets else None
    x, y = random.uniform(-50, 450, (2, 80))
    places = group_places(x, y, graph, metres=metres)
    assert np.array_equal(np.unique(places.of_tree), np.arange(len(places)))
    if graph is None:
        away = np.hypot(x - places.x[places.of_tree], y - places.y[places.of_tree])
        assert (away <= metres + 0.02).all()
    else:
        at = snap(x, y, graph)
        kerb = at.metres_off <= metres
        spot = places.on_street
        assert (at.edge[kerb] == spot.edge[places.of_tree[kerb]]).all()
        along = np.abs(at.offset - spot.offset[places.of_tree])
        assert (along[kerb] <= metres + 0.02).all()
    order = random.permutation(80)
    again = group_places(x[order], y[order], graph, metres=metres)
    assert np.array_equal(again.of_tree, places.of_tree[order])
    np.testing.assert_array_equal(again.x, places.x)
