"""Minutes on the way per visit, and which trees crews are likely to reach, by hand."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from forestcycle.outlook.overhead import (
    FEWEST_STOPS,
    estimated_overhead,
    likely_visits,
    measured_overhead,
)
from forestcycle.settings.travel import TravelRules
from tests.practice.random_city import random_city

WORTH = np.array([30.0, 10.0, 60.0, 90.0])
MINUTES = np.array([10.0, 10.0, 20.0, 15.0])
DUE = np.array([True, True, True, False])


def test_the_worthiest_minutes_come_first_until_crews_are_used_up():
    """3, 1 and 3 points a minute of those due: 30 minutes reach the first and the third."""
    assert likely_visits(WORTH, MINUTES, DUE, 30).tolist() == [True, False, True, False]
    assert likely_visits(WORTH, MINUTES, DUE, 1000).tolist() == DUE.tolist()


def test_one_tree_is_reached_whatever_the_crews():
    assert likely_visits(WORTH, MINUTES, DUE, 0).sum() == 1
    assert not likely_visits(WORTH, MINUTES, ~np.ones(4, dtype=bool), 100).any()


def test_a_plans_minutes_are_shared_out_with_the_ways_home():
    """30 stops of 2 minutes, 30 of 4, and 20 minutes of ways home: a ninth more for each."""
    stops = pd.DataFrame(
        {
            "ward": ["North"] * FEWEST_STOPS + ["South"] * FEWEST_STOPS + ["East"],
            "travel_minutes": [2.0] * FEWEST_STOPS + [4.0] * FEWEST_STOPS + [0.0],
        }
    )
    crew_days = pd.DataFrame({"travel_minutes": [150.0, 50.0]})
    found = measured_overhead(stops, crew_days)
    assert set(found) == {"", "North", "South"}, "a ward with few stops takes the city's mean"
    assert found["North"] == pytest.approx(2 * 200 / 180)
    assert found["South"] == pytest.approx(4 * 200 / 180)
    assert found[""] == pytest.approx(200 / 61)


def test_ways_are_estimated_from_where_trees_stand():
    """Two trees share a parking place, a third stands four squares on; a fourth is not due.

    At 30 km/h and a detour of 1.5 a metre takes 0.003 minutes: a leg of four squares of 50 m
    0.6 minutes; from the depot 0, 10 and 200 m, there and back for every tenth visit.
    """
    x, y = [10.0, 20.0, 210.0, 5000.0], [10.0] * 4
    city = random_city(4)
    trees = city.trees.set_geometry(gpd.points_from_xy(x, y, crs=city.trees.crs))
    depots = gpd.GeoDataFrame(
        {"depot": ["Yard"]}, geometry=gpd.points_from_xy([10.0], [10.0]), crs=city.trees.crs
    )
    rules = TravelRules(place_metres=50, speed_kmh=30, detour_factor=1.5, parking_minutes=2)
    found = estimated_overhead(
        replace(city, trees=trees, depots=depots), np.array([True, True, True, False]), rules, 10
    )
    home = 2 * (0 + 10 + 200) / 3 * 0.003 / 10
    assert found == pytest.approx({"": 2 * 2.6 / 3 + home, "no ward": 2 * 2.6 / 3 + home})


def test_where_no_tree_is_due_parking_is_all_there_is():
    nobody = np.zeros(5, dtype=bool)
    assert estimated_overhead(random_city(5), nobody, TravelRules(parking_minutes=2), 10) == {"": 2}
