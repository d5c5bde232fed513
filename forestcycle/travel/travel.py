"""What the planner may ask about travel."""

from typing import Literal, Protocol

import numpy as np
import numpy.typing as npt

from forestcycle.errors import Fault

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

METRES_PER_MINUTE_PER_KMH = 1000 / 60

KindOfTravel = Literal["streets", "distance"]


class Minutes(Protocol):
    """The part of :class:`Travel` that packing needs."""

    def minutes(self, origins: Integers, destinations: Integers) -> Floats:
        """Driving minutes, shape (len(origins), len(destinations)).

        Parameters
        ----------
        origins, destinations : int64, shape (o,) and (d,)
            Nodes.

        Returns
        -------
        (o, d) float64
            Infinite where there is no way.
        """
        ...


class Travel(Protocol):
    """Minutes between nodes: places 0..p-1, then depots p..p+d-1.

    Minutes from a node to itself are 0, and no way is longer than a detour
    over a third node (triangle inequality), which the packing bound needs.
    With one-way streets, the way there and the way back may differ.
    """

    @property
    def kind(self) -> KindOfTravel:
        """Whether minutes follow streets or are estimated from air distance."""

    @property
    def x(self) -> Floats:
        """Eastings of all nodes, shape (p + d,), in metres."""

    @property
    def y(self) -> Floats:
        """Northings of all nodes, shape (p + d,), in metres."""

    @property
    def place_count(self) -> int:
        """Number of places, p; node p is the first depot."""

    @property
    def unreachable(self) -> Integers:
        """Nodes that no depot can both send a truck to and get back from."""

    @property
    def notes(self) -> tuple[Fault, ...]:
        """What the forester should know: gaps mended, streets cut off, trees far from any."""

    def minutes(self, origins: npt.ArrayLike, destinations: npt.ArrayLike) -> Floats:
        """Driving minutes, shape (origins, destinations); +inf where there is no way.

        Parameters
        ----------
        origins, destinations : array_like of int64, shape (o,) and (d,)
            Nodes.

        Returns
        -------
        (o, d) float64
        """

    def path(self, origin: int, destination: int) -> Floats:
        """Coordinates of the way, shape (k, 2); shape (0, 2) where there is none.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        (k, 2) float64
            Eastings and northings in metres.
        """

    def metres(self, origin: int, destination: int) -> float:
        """Length of the way; +inf where there is none.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        float
        """
