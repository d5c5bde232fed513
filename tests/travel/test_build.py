"""From layers to travel, and what the forester is told."""

import numpy as np
import pytest

from forestcycle.settings.travel import TravelRules
from forestcycle.travel import DistanceTravel, StreetTravel, build_travel
from sample_city.city import make_city
from tests.travel.networks import layer

RULES = TravelRules()
X, Y = np.array([20.0, 30.0, 180.0]), np.array([5.0, -5.0, 5.0])
DEPOT = np.array([0.0]), np.array([0.0])


def test_on_streets():
    travel, place = build_travel(X, Y, *DEPOT, layer([(0, 0), (200, 0)]), RULES)
    assert isinstance(travel, StreetTravel)
    assert place.tolist() == [0, 0, 1]
    assert travel.place_count == 2
    assert travel.notes == ()
    # 155 m at 25 km/h
    assert travel.minutes([0], [1])[0, 0] == pytest.approx(155 / (25_000 / 60))


@pytest.mark.parametrize("streets", [None, layer([(0, 0), (0, 0)])], ids=["none", "no length"])
def test_without_streets(streets):
    travel, place = build_travel(X, Y, *DEPOT, streets, RULES)
    assert isinstance(travel, DistanceTravel)
    assert len(place) == 3


def test_streets_elsewhere_are_not_followed_and_it_is_said():
    far_away = layer([(5e6, 5e6), (5e6 + 100, 5e6)])
    travel, _ = build_travel(X, Y, *DEPOT, far_away, RULES)
    assert travel.kind == "distance"
    assert "3 of 3 trees" in str(travel.notes[0])


def test_far_trees_far_depots_and_cut_off_streets_are_said():
    streets = layer([(0, 0), (200, 0)], [(900, 900), (950, 900)])
    x, y = np.append(X, 100.0), np.append(Y, 400.0)
    travel, _ = build_travel(x, y, np.array([-500.0]), np.array([0.0]), streets, RULES)
    said = " ".join(map(str, travel.notes))
    assert "1 streets" in said
    assert "1 trees stand more than 150 m" in said
    assert "1 depots stand more than 150 m" in said


def test_the_sample_city_can_be_driven():
    city = make_city(trees=1_000)
    trees, depots = city.layers["trees"], city.layers["depots"]
    standing = trees[~trees.geometry.is_empty & (trees.geometry.x > 1)].geometry
    travel, place = build_travel(
        standing.x.to_numpy(),
        standing.y.to_numpy(),
        depots.geometry.x.to_numpy(),
        depots.geometry.y.to_numpy(),
        city.layers["streets"],
        TravelRules(farthest_snap_metres=250),
    )
    assert travel.kind == "streets"
    assert travel.notes == ()
    assert len(travel.unreachable) == 0
    assert 1.5 < len(standing) / travel.place_count < 8
    assert place.max() == travel.place_count - 1
