"""Minutes between crossings against igraph's Dijkstra, however many are asked for."""

import igraph
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.travel.crossings import FEW_CROSSINGS, CrossingMinutes
from forestcycle.travel.streets import StreetGraph, build_streets
from tests.travel.networks import bubenec, geodanet, random_grid

NONE = np.empty(0, dtype=np.int64)


def igraph_minutes(streets: StreetGraph, starts: np.ndarray, ends: np.ndarray) -> np.ndarray:
    arcs = streets.matrix.tocoo()
    graph = igraph.Graph(
        n=arcs.shape[0], edges=np.column_stack([arcs.row, arcs.col]).tolist(), directed=True
    )
    return np.array(graph.distances(starts, ends, weights=arcs.data.tolist(), mode="out"))


def check(streets: StreetGraph, often: np.ndarray, starts: np.ndarray, ends: np.ndarray) -> None:
    found = CrossingMinutes(streets, often).minutes(starts, ends)
    expected = igraph_minutes(streets, starts, ends)
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("network", [geodanet, bubenec])
def test_minutes_are_igraphs_for_few_and_for_many(network):
    streets = build_streets(network(), speed_kmh=30.0)
    random = np.random.default_rng(3)
    every = random.permutation(len(streets.node_x))
    many = every[: 3 * FEW_CROSSINGS]
    for often in (NONE, np.sort(every[:4]), np.sort(every[-4:])):
        check(streets, often, many, many)
        check(streets, often, every[:3], many)
        check(streets, often, many, every[-3:])
        check(streets, often, every[:1], every[-1:])


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), starts=st.integers(1, 30), ends=st.integers(1, 30))
def test_minutes_are_igraphs_on_streets_of_which_some_lead_nowhere(seed, starts, ends):
    streets = build_streets(random_grid(seed), speed_kmh=30.0)
    random = np.random.default_rng(seed)
    nodes = len(streets.node_x)
    often = np.unique(random.integers(0, nodes, random.integers(0, 5)))
    leaving, arriving = (random.permutation(nodes)[:count] for count in (starts, ends))
    check(streets, often, leaving, arriving)


def test_a_neighbourhood_of_a_large_network_is_searched_alone():
    streets = build_streets(geodanet(), speed_kmh=30.0)
    away = np.hypot(streets.node_x - streets.node_x[0], streets.node_y - streets.node_y[0])
    near = np.argsort(away)[:40]
    region, limit = CrossingMinutes(streets, NONE).region(near)
    assert len(region) < len(streets.node_x)
    assert np.isin(near, region).all()
    assert igraph_minutes(streets, near, near).max() <= limit
    check(streets, NONE, near, near)
