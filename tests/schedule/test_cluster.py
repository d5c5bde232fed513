"""Preparing a few crew-days for the search."""

import numpy as np
import pytest

from forestcycle.schedule.cluster import ClusterSearch, Route, make_ground
from tests.schedule.tiny import shortest


def ground(**changes):
    """Eight stops, two crew-days, one-way streets."""
    rng = np.random.default_rng(7)
    table = shortest(rng.uniform(1, 20, (10, 10)))
    fields = {
        "leg": table[:8, :8],
        "out": table[8:, :8],
        "back": table[:8, 8:].T,
        "service": rng.uniform(5, 30, 8),
        "worth": rng.uniform(1, 9, 8),
        "capacity": np.full(2, 90.0),
    } | changes
    keywords = {k: fields.pop(k) for k in ("earliest", "latest", "day_price") if k in fields}
    return make_ground(*fields.values(), **keywords)


def searched(prepared, steps=1500, **options):
    search = ClusterSearch(prepared, seed=1, **options)
    search.run(steps, hot=1.0, cold=0.05)
    return search


def visited(search):
    return sorted(stop for route in search.routes for stop in route.stops)


def test_without_hours_no_clock_is_kept():
    assert not ground().timed
    assert not ground(latest=np.where(np.eye(2, 8) > 0, -1.0, np.inf)).timed
    assert ground(latest=np.full((2, 8), 60.0)).timed
    assert ground(earliest=np.full((2, 8), 5.0)).timed


@pytest.mark.parametrize("timed", [False, True])
def test_stops_without_worth_are_never_taken(timed):
    worth = np.array([3.0, 0.0, 2.0, -1.0, 4.0, 0.0, 1.0, -9.0])
    hours = {"earliest": np.full((2, 8), 5.0)} if timed else {}
    search = searched(ground(worth=worth, **hours))
    assert visited(search)
    assert not set(visited(search)) & {1, 3, 5, 7}


@pytest.mark.parametrize("timed", [False, True])
def test_forbidden_visits_are_never_made(timed):
    latest = np.full((2, 8), np.inf)
    latest[0, ::2] = latest[1, 1::2] = -1.0
    hours = {"earliest": np.full((2, 8), 5.0)} if timed else {}
    search = searched(ground(latest=latest, **hours))
    for route in (*search.routes, *search.pool):
        assert all(stop % 2 != route.crew_day % 2 for stop in route.stops)


def test_a_crew_day_that_costs_more_than_it_brings_stays_free():
    dear = searched(ground(day_price=np.array([1e6, 0.0])))
    assert dear.routes[0].stops == ()
    assert dear.routes[1].stops


def test_no_time_for_the_depot_s_legs_means_no_stop():
    search = searched(ground(capacity=np.full(2, 1.0)))
    assert visited(search) == []
    assert search.pool == []


def test_a_search_can_go_on():
    """In portions or in one go, a fixed temperature gives the same outcome."""
    whole, parts = (ClusterSearch(ground(), seed=3) for _ in range(2))
    whole.run(400, hot=0.3, cold=0.3)
    for _ in range(4):
        parts.run(100, hot=0.3, cold=0.3)
    assert whole.routes == parts.routes


def test_a_good_start_is_kept_and_pooled():
    best = searched(ground()).routes
    again = ClusterSearch(ground(), seed=9, start=best)
    assert again.routes == best
    assert set(again.pool) == {Route(r.crew_day, r.stops) for r in best if r.stops}
