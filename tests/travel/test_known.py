"""What is remembered is what the streets say, and they are not asked for it again."""

import numpy as np

from forestcycle.settings.travel import TravelRules
from forestcycle.travel import build_travel
from forestcycle.travel.known import KnownWays, Way
from tests.travel.networks import geodanet


class Counted:
    """Streets that count how often they are asked."""

    def __init__(self, streets):
        self.streets, self.asked = streets, 0

    def minutes(self, origins, destinations):
        self.asked += 1
        return self.streets.minutes(origins, destinations)


def streets():
    lines = geodanet()
    corners = np.array([line.coords[0] for line in lines.geometry[::10]])
    depot = corners[:1]
    return build_travel(*corners.T, *depot.T, lines, TravelRules())[0]


def test_a_day_asked_for_twice_is_searched_once():
    travel = streets()
    counted = Counted(travel)
    known = KnownWays(counted, {})
    day = np.array([3, 1, 7, 5])
    right = travel.minutes(day, day)
    assert np.array_equal(known.minutes(day, day), right)
    assert np.array_equal(known.minutes(day[::-1], day[::-1]), right[::-1, ::-1])
    assert np.array_equal(known.legs(day), right[[0, 1, 2], [1, 2, 3]])
    assert np.array_equal(known.minutes(day[:1], day[1:]), right[:1, 1:])
    assert counted.asked == 1


def test_one_more_stop_is_searched_alone():
    travel = streets()
    counted = Counted(travel)
    known = KnownWays(counted, {})
    known.minutes(np.array([3, 1, 7, 5]), np.array([3, 1, 7, 5]))
    for newcomer in (0, 9):
        day = np.sort([3, newcomer, 1, 7, 5])
        assert np.allclose(known.minutes(day, day), travel.minutes(day, day), rtol=1e-12)
    assert counted.asked == 5
    assert len(known.searched) == 4 * 4 + 2 * (2 * 4 + 1)


def test_a_stop_put_into_a_known_route_is_searched_alone():
    travel = streets()
    counted = Counted(travel)
    known = KnownWays(counted, {}, whole_days=False)
    route = np.array([3, 1, 7, 5])
    known.legs(route)
    for place in range(len(route) + 1):
        longer = np.insert(route, place, 9)
        right = travel.minutes(longer, longer)[np.arange(4), np.arange(1, 5)]
        assert np.allclose(known.legs(longer), right, rtol=1e-12)
    assert counted.asked == 3


def test_known_ways_come_first():
    counted = Counted(streets())
    way = Way(4.0, 900.0, np.zeros((2, 2)))
    known = KnownWays(counted, {(0, 1): way, (1, 2): way})
    assert known.legs(np.array([0, 1, 1, 2])).tolist() == [4.0, 0.0, 4.0]
    assert counted.asked == 0
