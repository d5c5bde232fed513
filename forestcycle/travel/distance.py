"""Travel estimated from air distance, for cities without a street layer."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.spatial.distance import cdist

from forestcycle.errors import Fault
from forestcycle.travel.travel import METRES_PER_MINUTE_PER_KMH, Floats, Integers


@dataclass(frozen=True)
class DistanceTravel:
    """Air distance times a detour factor, at one speed.

    Attributes
    ----------
    x, y : (p + d,) float64
        Places, then depots; metres.
    place_count : int
        Number of places, p.
    detour_factor : float
        Street distance over air distance, 1 or more.
    speed_kmh : float
        Of a truck in town.
    notes : tuple of Fault
        Why there are no streets to follow, where there was a layer.
    """

    x: Floats
    y: Floats
    place_count: int
    detour_factor: float
    speed_kmh: float
    notes: tuple[Fault, ...] = ()
    kind: Literal["distance"] = "distance"

    @property
    def unreachable(self) -> Integers:
        """No node: through the air, every place has a way."""
        return np.empty(0, dtype=np.int64)

    def minutes(self, origins: npt.ArrayLike, destinations: npt.ArrayLike) -> Floats:
        """Driving minutes, shape (origins, destinations).

        Parameters
        ----------
        origins, destinations : array_like of int64, shape (o,) and (d,)
            Nodes.

        Returns
        -------
        (o, d) float64
        """
        start, end = self._points(origins), self._points(destinations)
        metres_per_minute = self.speed_kmh * METRES_PER_MINUTE_PER_KMH
        result: Floats = cdist(start, end) * (self.detour_factor / metres_per_minute)
        return result

    def path(self, origin: int, destination: int) -> Floats:
        """Draw a straight line, shape (2, 2): the true way is not known.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        (2, 2) float64
            Eastings and northings in metres.
        """
        return self._points([origin, destination])

    def metres(self, origin: int, destination: int) -> float:
        """Air distance times the detour factor.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        float
        """
        air = np.hypot(self.x[destination] - self.x[origin], self.y[destination] - self.y[origin])
        return float(air * self.detour_factor)

    def _points(self, nodes: npt.ArrayLike) -> Floats:
        index = np.asarray(nodes, dtype=np.int64)
        return np.column_stack([self.x[index], self.y[index]])
