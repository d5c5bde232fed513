"""The compiled search against plain recomputation and plain enumeration."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.cluster import ClusterSearch, Route, make_ground
from tests.schedule.tiny import shortest


def random_ground(seed, *, stops=12, days=2, timed=False):
    """A random small cluster with one-way streets."""
    random = np.random.default_rng(seed)
    points = random.uniform(0, 40, (stops + days, 2))
    table = np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))
    table = shortest(table * random.uniform(0.7, 1.5, table.shape))
    earliest = random.uniform(0, 60, (days, stops)) if timed else None
    latest = np.full((days, stops), np.inf)
    if timed:
        latest = earliest + random.uniform(0, 90, (days, stops))
    latest[random.random((days, stops)) < 0.2] = -1.0
    return make_ground(
        table[:stops, :stops],
        table[stops:, :stops],
        table[:stops, stops:].T,
        random.uniform(5, 40, stops),
        random.integers(1, 20, stops).astype(float),
        random.uniform(60, 150, days),
        earliest=earliest,
        latest=latest,
    )


def minutes_of(ground, day, stops):
    """Minutes of a route, or infinity where it cannot be kept; step by step."""
    if not stops:
        return 0.0
    clock, before = 0.0, None
    for stop in stops:
        clock += ground.out[day, stop] if before is None else ground.leg[before, stop]
        clock = max(clock, ground.earliest[day, stop])
        if clock > ground.latest[day, stop] + 1e-9:
            return np.inf
        clock += ground.service[stop]
        before = stop
    clock += ground.back[day, before]
    return clock if clock <= ground.capacity[day] + 1e-9 else np.inf


def worth_of(ground, routes):
    return sum(ground.worth[list(route.stops)].sum() for route in routes)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_routes_and_pool_are_feasible(seed, timed):
    ground = random_ground(seed, timed=timed)
    search = ClusterSearch(ground, seed=seed)
    search.run(300, hot=1.0, cold=0.05)
    visited = [stop for route in search.routes for stop in route.stops]
    assert len(set(visited)) == len(visited)
    for route in (*search.routes, *search.pool):
        assert len(set(route.stops)) == len(route.stops)
        assert np.isfinite(minutes_of(ground, route.crew_day, route.stops))


def best_by_enumeration(ground):
    """Worth of the best pair of routes: every set of stops in its fastest order."""
    stops = len(ground.service)
    feasible = [
        {
            subset
            for subset in range(1 << stops)
            if any(
                np.isfinite(minutes_of(ground, day, order))
                for order in permutations([s for s in range(stops) if subset >> s & 1])
            )
        }
        for day in range(2)
    ]
    worth = [
        sum(ground.worth[s] for s in range(stops) if subset >> s & 1)
        for subset in range(1 << stops)
    ]
    return max(worth[a] + worth[b] for a in feasible[0] for b in feasible[1] if not a & b)


@pytest.mark.parametrize("timed", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_finds_the_best_pair_of_routes(seed, timed):
    """Plain enumeration of every set and order, six stops and two crew-days."""
    ground = random_ground(seed, stops=6, timed=timed)
    search = ClusterSearch(ground, seed=seed)
    search.run(4_000, hot=1.0, cold=0.05)
    assert worth_of(ground, search.routes) == pytest.approx(best_by_enumeration(ground))


def test_one_seed_gives_one_outcome():
    ground = random_ground(5, stops=30, days=3)

    def found(seed):
        search = ClusterSearch(ground, seed=seed)
        search.run(1_000, hot=1.0, cold=0.05)
        return search.routes, search.pool

    assert found(7) == found(7)


def test_never_worse_than_the_start():
    ground = random_ground(9, stops=30, days=3)
    first = ClusterSearch(ground, seed=1)
    first.run(2_000, hot=1.0, cold=0.05)
    second = ClusterSearch(ground, seed=2, start=first.routes)
    second.run(50, hot=5.0, cold=5.0)
    value = worth_of(ground, second.routes)
    assert value >= worth_of(ground, first.routes) - 1.0  # minutes may break a tie of worth


def test_a_start_that_does_not_fit_is_left_out():
    ground = random_ground(3)
    everything = Route(0, tuple(range(len(ground.service))))
    search = ClusterSearch(ground, seed=1, start=[everything])
    assert all(not route.stops for route in search.routes)
