"""Ways that have been worked out before, so that a street search need not repeat them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from forestcycle.errors import Fault
from forestcycle.travel.travel import Floats, Integers, KindOfTravel, Travel

STOPS_OF_A_DAY = 120


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
class KnownWays:
    """Travel that looks up known drives and asks the streets for all others.

    Attributes
    ----------
    streets : Travel
    known : mapping of (int, int) to Way
        By the nodes at either end.
    searched : dict of (int, int) to float
        Minutes between stops of one day that have been asked for.
    """

    streets: Travel
    known: Mapping[tuple[int, int], Way]
    searched: dict[tuple[int, int], float] = field(default_factory=dict, repr=False, compare=False)

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

    def minutes(self, origins: npt.ArrayLike, destinations: npt.ArrayLike) -> Floats:
        """Driving minutes, shape (origins, destinations)."""
        start, end = np.atleast_1d(origins), np.atleast_1d(destinations)
        if len(start) == 1:
            drives = self._drives(np.full(len(end), start[0]), end)
            if drives is not None:
                return drives[None, :]
        if len(start) <= STOPS_OF_A_DAY and np.array_equal(start, end):
            return self._among(start)
        return self.streets.minutes(origins, destinations)

    def legs(self, nodes: Integers) -> Floats:
        """Driving minutes from each node to the next, shape (len(nodes) - 1,).

        Parameters
        ----------
        nodes : (k,) int64
            In the order in which they are driven to.

        Returns
        -------
        (k - 1,) float64
        """
        drives = self._drives(nodes[:-1], nodes[1:])
        if drives is not None:
            return drives
        distinct, at = np.unique(nodes, return_inverse=True)
        return np.asarray(self.minutes(distinct, distinct)[at[:-1], at[1:]])

    def _among(self, nodes: Integers) -> Floats:
        """Minutes between the stops of a day, remembered: a day is asked for many times."""
        names = nodes.tolist()
        pairs = [(a, b) for a in names for b in names]
        if not all(pair in self.searched for pair in pairs):
            table = self.streets.minutes(nodes, nodes)
            self.searched.update(zip(pairs, table.reshape(-1).tolist(), strict=True))
            return table
        shape = (len(names), len(names))
        return np.array([self.searched[pair] for pair in pairs], dtype=np.float64).reshape(shape)

    def path(self, origin: int, destination: int) -> Floats:
        """Coordinates of the way."""
        way = self.known.get((origin, destination))
        return self.streets.path(origin, destination) if way is None else way.path

    def metres(self, origin: int, destination: int) -> float:
        """Length of the way."""
        way = self.known.get((origin, destination))
        return self.streets.metres(origin, destination) if way is None else way.metres

    def _drives(self, start: npt.NDArray[np.int64], end: npt.NDArray[np.int64]) -> Floats | None:
        """Minutes of single drives, None if one of them is not known."""
        found = np.zeros(len(start))
        for place, (a, b) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
            if a != b:
                way = self.known.get((a, b))
                minutes = self.searched.get((a, b)) if way is None else way.minutes
                if minutes is None:
                    return None
                found[place] = minutes
        return found
