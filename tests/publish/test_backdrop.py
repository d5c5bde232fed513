"""Coordinates and outlines as the maps draw them."""

import math
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from forestcycle.publish.backdrop import WORLD, backdrop, ground_of, paths, steps, world_units


@given(st.floats(-179.9, 179.9), st.floats(-84, 84))
def test_world_units_follow_the_mercator_formula(lon, lat):
    # J. P. Snyder, "Map Projections: A Working Manual", USGS 1987, eq. 7-1 and 7-2, sphere.
    x, y = world_units(np.array([lon]), np.array([lat]), "EPSG:4326")[0]
    expected_y = math.log(math.tan(math.pi / 4 + math.radians(lat) / 2))
    assert x / WORLD == pytest.approx(0.5 + lon / 360, abs=1e-8)
    assert y / WORLD == pytest.approx(0.5 - expected_y / (2 * math.pi), abs=1e-8)


@given(st.lists(st.tuples(st.integers(0, WORLD), st.integers(0, WORLD)), min_size=1, max_size=40))
def test_steps_lead_back_to_the_points(points):
    packed = np.array(steps(np.array(points))).reshape(-1, 2)
    assert np.cumsum(packed, axis=0).tolist() == [list(point) for point in points]


def test_each_line_becomes_one_path():
    lines = gpd.GeoSeries([LineString([(0, 0), (10, 0)]), LineString([(0, 5), (9, 5), (9, 9)])])
    packed = paths(lines.set_crs("EPSG:32633"))
    assert [len(path) for path in packed] == [4, 6]


def test_pieces_of_a_street_are_joined_and_far_ones_left_out(plan):
    around = tuple(plan.trees.geometry.iloc[[0]].buffer(150).total_bounds)
    near, whole = backdrop(ground_of(plan), around=around), backdrop(ground_of(plan))
    assert {street[0] for street in near["streets"]} < {street[0] for street in whole["streets"]}
    assert len(whole["streets"]) == plan.streets["street"].nunique()
    assert [depot[0] for depot in whole["depots"]] == ["North yard", "<i>South</i> yard"]


def test_holes_and_parts_of_areas_are_kept(plan):
    ring = Polygon(box(0, 0, 100, 100).exterior, [box(40, 40, 60, 60).exterior])
    parks = gpd.GeoDataFrame(
        {"park": ["Green"]}, geometry=[MultiPolygon([ring, box(200, 0, 300, 90)])], crs="EPSG:32633"
    )
    (park,) = backdrop(ground_of(replace(plan, parks=parks)))["parks"]
    assert park[0] == "Green"
    assert len(park[1:]) == 3


def test_a_city_without_layers_has_an_empty_backdrop(plan):
    bare = replace(plan, streets=None, wards=None, parks=None, depots=None)
    assert backdrop(ground_of(bare)) == {"streets": [], "wards": [], "parks": [], "depots": []}
