"""Street minutes and ways against igraph, and the laws that every travel time keeps."""

import pickle
from dataclasses import replace

import geopandas as gpd
import igraph
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.ops import substring

from forestcycle.travel.matrix import StreetTravel
from forestcycle.travel.snap import snap
from forestcycle.travel.streets import build_streets
from tests.travel.networks import bubenec, geodanet, layer, random_grid, with_rules

SPEED = 30.0
PER_MINUTE = SPEED * 1000 / 60


def spots_on(streets: gpd.GeoDataFrame, count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Rows of a street layer and shares of their length, at random."""
    random = np.random.default_rng(seed)
    return random.integers(0, len(streets), count), random.uniform(0.02, 0.98, count)


def travel_between(streets: gpd.GeoDataFrame, row: np.ndarray, share: np.ndarray) -> StreetTravel:
    """Travel between spots on streets; the last of them is the depot."""
    points = streets.geometry.iloc[row].interpolate(share, normalized=True)
    x, y = points.x.to_numpy(), points.y.to_numpy()
    graph = build_streets(streets, speed_kmh=SPEED)
    return StreetTravel(graph, snap(x, y, graph), x, y, len(x) - 1)


def igraph_minutes(streets: gpd.GeoDataFrame, row: np.ndarray, share: np.ndarray) -> np.ndarray:
    """The same with igraph, on streets that shapely has cut at the spots."""
    names: dict[object, int] = {}
    arcs, minutes = [], []

    def node(name: object) -> int:
        return names.setdefault(name, len(names))

    for number, (line, one_way, speed) in enumerate(
        zip(streets.geometry, streets["one_way"], streets["speed_kmh"], strict=True)
    ):
        here = np.flatnonzero(row == number)
        here = here[np.argsort(share[here])]
        cuts = [0.0, *share[here], 1.0]
        stops = [
            node(tuple(np.round(line.coords[0][:2], 3))),
            *(node(int(spot)) for spot in here),
            node(tuple(np.round(line.coords[-1][:2], 3))),
        ]
        pace = 1 / ((SPEED if np.isnan(speed) else speed) * 1000 / 60)
        for i in range(len(stops) - 1):
            length = substring(line, cuts[i], cuts[i + 1], normalized=True).length
            arcs.append((stops[i], stops[i + 1]))
            minutes.append(length * pace)
            if not one_way:
                arcs.append((stops[i + 1], stops[i]))
                minutes.append(length * pace)
    graph = igraph.Graph(n=len(names), edges=arcs, directed=True)
    at = [names[spot] for spot in range(len(row))]
    return np.array(graph.distances(at, at, weights=minutes, mode="out"))


@pytest.mark.parametrize("streets", [geodanet(), bubenec()], ids=["geodanet", "bubenec"])
@pytest.mark.parametrize("rules", [False, True], ids=["two-way", "one-way and speeds"])
def test_minutes_are_igraphs(streets, rules):
    streets = with_rules(streets, 7) if rules else streets
    row, share = spots_on(streets, 120, 3)
    expected = igraph_minutes(streets, row, share)
    travel = travel_between(streets, row, share)
    every = np.arange(120)
    assert np.isinf(expected).any() == rules
    np.testing.assert_allclose(travel.minutes(every, every), expected, rtol=1e-9, atol=1e-9)
    # Few to many, many to few, and one alone take other ways through the code.
    np.testing.assert_allclose(travel.minutes(every[:3], every), expected[:3], atol=1e-9)
    np.testing.assert_allclose(travel.minutes(every, every[5:8]), expected[:, 5:8], atol=1e-9)
    np.testing.assert_allclose(travel.minutes([11], [92]), expected[[11]][:, [92]], atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_ways_from_and_to_depots_are_those_between_any_nodes(seed):
    """Those of depots are searched once for all crossings; a copy without depots searches anew."""
    streets = random_grid(seed)
    row, share = spots_on(streets, 30, seed)
    travel = travel_between(streets, row, share)
    depots, places = np.arange(27, 30), np.arange(27)
    travel = replace(travel, place_count=27)
    without = replace(travel, place_count=30)
    for start, end in ((depots, places), (places, depots), (depots, depots), (depots[:1], places)):
        np.testing.assert_allclose(
            travel.minutes(start, end), without.minutes(start, end), rtol=1e-9, atol=1e-9
        )


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), spread=st.floats(0, 40))
def test_no_detour_is_shorter(seed, spread):
    streets = random_grid(seed)
    row, share = spots_on(streets, 20, seed)
    travel = travel_between(streets, row, share)
    random = np.random.default_rng(seed)
    x, y = travel.x + random.normal(0, spread, 20), travel.y + random.normal(0, spread, 20)
    travel = StreetTravel(travel.streets, snap(x, y, travel.streets), x, y, 18)
    every = np.arange(20)
    minutes = travel.minutes(every, every)
    assert (np.diag(minutes) == 0).all()
    assert (minutes >= 0).all()
    detour = (minutes[:, :, None] + minutes[None, :, :]).min(axis=1)
    finite = np.isfinite(minutes)
    assert (minutes[finite] <= detour[finite] + 1e-9).all()
    assert not np.isfinite(detour[~finite]).any()


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_minutes_do_not_depend_on_what_else_is_asked(seed):
    streets = random_grid(seed)
    row, share = spots_on(streets, 30, seed)
    travel = travel_between(streets, row, share)
    whole = travel.minutes(np.arange(30), np.arange(30))
    some = np.random.default_rng(seed).integers(0, 30, 7)
    few = travel.minutes(some, some[:4])
    np.testing.assert_allclose(few, whole[np.ix_(some, some[:4])], rtol=1e-9, atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_way_lies_on_the_streets_and_takes_the_minutes(seed):
    streets = random_grid(seed).assign(speed_kmh=SPEED)
    row, share = spots_on(streets, 8, seed)
    travel = travel_between(streets, row, share)
    network = shapely.union_all(streets.geometry.to_numpy()).buffer(1e-6)
    for origin in range(8):
        for destination in range(8):
            minutes = travel.minutes([origin], [destination])[0, 0]
            way = travel.path(origin, destination)
            if np.isinf(minutes):
                assert way.shape == (0, 2)
                assert travel.metres(origin, destination) == np.inf
                continue
            assert travel.metres(origin, destination) == pytest.approx(minutes * PER_MINUTE)
            assert way[0] == pytest.approx([travel.x[origin], travel.y[origin]])
            assert way[-1] == pytest.approx([travel.x[destination], travel.y[destination]])
            assert network.covers(shapely.LineString(way))


def test_a_one_way_ring_is_driven_round():
    ring = [(0, 0), (100, 0), (100, 100), (0, 100), (0, 0)]
    sides = [[ring[i], ring[i + 1]] for i in range(4)]
    streets = layer(*sides, one_way=True)
    x, y = np.array([30.0, 70.0, 100.0]), np.array([0.0, 0.0, 50.0])
    graph = build_streets(streets, speed_kmh=6.0)  # 100 m a minute
    travel = StreetTravel(graph, snap(x, y, graph), x, y, 2)
    expected = np.array([[0, 0.4, 1.2], [3.6, 0, 0.8], [2.8, 3.2, 0]])
    np.testing.assert_allclose(travel.minutes(range(3), range(3)), expected)
    assert travel.path(1, 0).tolist() == [[70, 0], [100, 0], [100, 100], [0, 100], [0, 0], [30, 0]]
    assert len(travel.unreachable) == 0


def test_a_place_off_the_street_is_reached_at_walking_pace():
    graph = build_streets(layer([(0, 0), (1000, 0)]), speed_kmh=60.0)
    x, y = np.array([0.0, 1000.0]), np.array([0.0, 250.0])
    travel = StreetTravel(graph, snap(x, y, graph), x, y, 1)
    assert travel.minutes([0], [1])[0, 0] == pytest.approx(1 + 250 / (5000 / 60))
    assert travel.path(0, 1).tolist() == [[0, 0], [1000, 0], [1000, 250]]
    assert travel.metres(0, 1) == pytest.approx(1250)


def test_what_no_depot_reaches_and_gets_back_from_is_named():
    two_pieces = layer([(0, 0), (100, 0)], [(500, 0), (600, 0)])
    dead_end = layer([(100, 0), (100, 100)], one_way=True)
    streets = gpd.GeoDataFrame(
        {"one_way": [False, False, True], "speed_kmh": np.nan},
        geometry=[*two_pieces.geometry, *dead_end.geometry],
        crs="EPSG:32626",
    )
    graph = build_streets(streets, speed_kmh=30.0)
    x, y = np.array([50.0, 550.0, 100.0, 10.0]), np.array([0.0, 0.0, 50.0, 0.0])
    travel = StreetTravel(graph, snap(x, y, graph), x, y, 3)
    assert travel.unreachable.tolist() == [1, 2]
    assert np.isinf(travel.minutes([3], [1])[0, 0])
    assert np.isfinite(travel.minutes([3], [2])[0, 0])
    assert travel.path(2, 3).shape == (0, 2)


def test_asking_for_nothing_gives_nothing():
    streets = geodanet()
    travel = travel_between(streets, *spots_on(streets, 5, 1))
    assert travel.minutes([], [1, 2]).shape == (0, 2)
    assert travel.minutes([1, 2], []).shape == (2, 0)
    assert travel.path(2, 2).shape == (2, 2)
    assert travel.metres(2, 2) == 0


def test_other_processes_get_the_same_travel_without_what_was_worked_out():
    streets = geodanet()
    travel = travel_between(streets, *spots_on(streets, 50, 1))
    fresh = len(pickle.dumps(travel))
    every = np.arange(50)
    minutes = travel.minutes(every, every)
    travel.path(3, 49)
    sent = pickle.dumps(travel)
    assert len(sent) <= fresh * 1.01
    np.testing.assert_array_equal(pickle.loads(sent).minutes(every, every), minutes)  # noqa: S301
