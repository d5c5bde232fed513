"""Street layers become one network, gaps and all."""

from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import connected_components

from forestcycle.travel.streets import build_streets
from tests.travel.networks import bubenec, geodanet, layer, random_grid


def pieces(streets: gpd.GeoDataFrame, **options: float) -> int:
    graph = build_streets(streets, speed_kmh=30.0, **options)
    return int(connected_components(graph.matrix, directed=False)[0])


@pytest.mark.parametrize(
    ("streets", "crossings"), [(geodanet(), 220), (bubenec(), 29)], ids=["geodanet", "bubenec"]
)
def test_clean_layers_stay_as_they_are(streets, crossings):
    """Crossings counted from the layers' own line ends."""
    graph = build_streets(streets, speed_kmh=30.0)
    ends = shapely.get_coordinates([line.boundary for line in streets.geometry])
    assert len(np.unique(ends.round(3), axis=0)) == crossings == len(graph.node_x)
    assert graph.mended_ends == graph.mended_crossings == 0
    assert graph.length == pytest.approx(streets.length.to_numpy())
    assert (graph.piece == 0).all()
    assert not graph.cut_off.any()


def test_ends_with_a_gap_meet():
    gap = layer([(0, 0), (100, 0)], [(100.6, 0.3), (200, 0)])
    assert pieces(gap) == 1
    assert pieces(gap, mend_metres=0.2) == 2
    assert build_streets(gap, speed_kmh=30.0).mended_ends == 1


@pytest.mark.parametrize("short_by", [0.0, 0.5, -0.5])
def test_a_street_that_ends_at_anothers_side_meets_it(short_by):
    """A T-junction, drawn exactly, too short and too long."""
    streets = layer([(0, 0), (100, 0), (200, 0)], [(60, short_by), (60, 80)])
    graph = build_streets(streets, speed_kmh=30.0)
    assert pieces(streets) == 1
    assert graph.mended_crossings == 1
    assert sorted(graph.length) == pytest.approx([60, 80 - short_by, 140])
    assert graph.source_row.tolist() == [0, 0, 1]


def test_streets_that_share_a_vertex_meet_and_bridges_do_not():
    with_vertex = layer([(0, 0), (50, 0), (100, 0)], [(50, -50), (50, 0), (50, 50)])
    without = layer([(0, 0), (100, 0)], [(50, -50), (50, 50)])
    assert pieces(with_vertex) == 1
    assert pieces(without) == 2


def test_several_streets_meet_one_side_near_each_other():
    streets = layer([(0, 0), (100, 0)], [(50, 0.9), (50, 60)], [(50.7, -0.9), (50, -60)])
    assert pieces(streets) == 1


def test_a_loop_with_a_tail_is_joined_to_itself():
    loop = layer([(0, 0), (50, 0), (100, 0), (100, 50), (50, 50), (50, 0)])
    graph = build_streets(loop, speed_kmh=30.0)
    assert sorted(graph.length) == pytest.approx([50, 200])


def test_multipart_three_dimensional_and_empty_rows():
    shapes = [
        shapely.MultiLineString([[(0, 0, 5), (50, 0, 6)], [(50, 0, 6), (90, 0, 7)]]),
        shapely.LineString(),
        None,
        shapely.Point(3, 3),
        shapely.LineString([(90, 0), (90, 0)]),
        shapely.LineString([(90, 0), (90, 70)]),
    ]
    streets = gpd.GeoDataFrame(
        {"one_way": False, "speed_kmh": [20.0, 1, 1, 1, 1, 40.0]}, geometry=shapes
    )
    graph = build_streets(streets, speed_kmh=30.0)
    assert graph.source_row.tolist() == [0, 0, 5]
    assert graph.length == pytest.approx([50, 40, 70])
    assert 1 / graph.pace * 60 / 1000 == pytest.approx([20, 20, 40])


def test_impossible_speeds_are_not_taken():
    streets = layer([(0, 0), (100, 0)], [(100, 0), (200, 0)]).assign(speed_kmh=[0.0, -5.0])
    graph = build_streets(streets, speed_kmh=30.0)
    assert graph.pace == pytest.approx(60 / 30_000)


def test_a_layer_without_length_is_refused():
    with pytest.raises(ValueError, match="no line"):
        build_streets(layer([(0, 0), (0, 0)]), speed_kmh=30.0)


def test_the_quickest_of_two_streets_between_the_same_crossings_is_driven():
    streets = layer([(0, 0), (100, 0)], [(0, 0), (50, 80), (100, 0)])
    graph = build_streets(streets, speed_kmh=6.0)
    assert graph.matrix[graph.start[0], graph.end[0]] == pytest.approx(1.0)


def test_one_way_pockets_are_cut_off():
    streets = layer([(0, 0), (100, 0)], [(100, 0), (100, 100)], [(100, 100), (200, 100)])
    streets["one_way"] = [False, True, False]
    graph = build_streets(streets, speed_kmh=30.0)
    assert graph.cut_off.tolist() == [False, True, True]


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), cuts=st.integers(1, 6))
def test_cutting_streets_into_parts_changes_no_length(seed, cuts):
    streets = random_grid(seed, size=4)
    whole = build_streets(streets, speed_kmh=30.0)
    shares = np.linspace(0, 1, cuts + 1)
    parts = [
        shapely.ops.substring(line, a, b, normalized=True)
        for line in streets.geometry
        for a, b in pairwise(shares)
    ]
    rules = streets.loc[streets.index.repeat(cuts), ["one_way", "speed_kmh"]]
    cut = build_streets(gpd.GeoDataFrame(rules, geometry=parts), speed_kmh=30.0)
    assert cut.length.sum() == pytest.approx(whole.length.sum())
    assert connected_components(cut.matrix)[0] >= connected_components(whole.matrix)[0]
    assert connected_components(cut.matrix, directed=False)[0] == pieces(streets)
