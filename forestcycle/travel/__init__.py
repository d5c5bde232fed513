"""Minutes between places: on the street layer, or from air distance without one."""

from forestcycle.travel.build import build_travel
from forestcycle.travel.distance import DistanceTravel
from forestcycle.travel.matrix import StreetTravel
from forestcycle.travel.travel import Travel

__all__ = ["DistanceTravel", "StreetTravel", "Travel", "build_travel"]
