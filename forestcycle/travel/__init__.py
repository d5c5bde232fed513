"""Minutes between places: on the street layer, or from air distance without one."""

from forestcycle.travel.distance import DistanceTravel
from forestcycle.travel.travel import Travel

__all__ = ["DistanceTravel", "Travel"]
