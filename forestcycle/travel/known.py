"""Ways that have been worked out before, so that a street search need not repeat them."""

from collections.abc import Mapping
from dataclasses import dataclass

from forestcycle.errors import Fault
from forestcycle.travel.remembered import RememberedDrives
from forestcycle.travel.travel import Floats, Integers, KindOfTravel, Travel


@dataclass(frozen=True)
class Way:
    """A drive from one node to another.

    Attributes
    ----------
    minutes, metres : float
    path : (k, 2) float64
    """

    minutes: float
    metres: float
    path: Floats


@dataclass(frozen=True)
class KnownWays(RememberedDrives):
    """Travel that looks up known drives and asks the streets for all others.

    Attributes
    ----------
    streets : Travel
    known : mapping of (int, int) to Way
        By the nodes at either end.
    """

    streets: Travel
    known: Mapping[tuple[int, int], Way]

    @property
    def kind(self) -> KindOfTravel:
        """As of ``streets``."""
        return self.streets.kind

    @property
    def x(self) -> Floats:
        """Eastings of all nodes."""
        return self.streets.x

    @property
    def y(self) -> Floats:
        """Northings of all nodes."""
        return self.streets.y

    @property
    def place_count(self) -> int:
        """Number of places."""
        return self.streets.place_count

    @property
    def unreachable(self) -> Integers:
        """As of ``streets``."""
        return self.streets.unreachable

    @property
    def notes(self) -> tuple[Fault, ...]:
        """As of ``streets``."""
        return self.streets.notes

    def path(self, origin: int, destination: int) -> Floats:
        """Coordinates of the way.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        (k, 2) float64
            Eastings and northings in metres; shape (0, 2) where there is none.
        """
        way = self.known.get((origin, destination))
        return self.streets.path(origin, destination) if way is None else way.path

    def metres(self, origin: int, destination: int) -> float:
        """Length of the way.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        float
            Infinite where there is none.
        """
        way = self.known.get((origin, destination))
        return self.streets.metres(origin, destination) if way is None else way.metres

    def _single(self, a: int, b: int) -> float | None:
        way = self.known.get((a, b))
        return super()._single(a, b) if way is None else way.minutes
