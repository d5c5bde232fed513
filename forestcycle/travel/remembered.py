"""Drives searched once and remembered."""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from forestcycle.travel.travel import Floats, Integers, Minutes

STOPS_OF_A_DAY = 120


@dataclass(frozen=True)
class RememberedDrives:
    """Travel that searches the ways of a day's route once only.

    Attributes
    ----------
    streets : Minutes
    whole_days : bool
        Remember the ways between all stops of a day, for routes that are looked at
        again with a stop more here or there. Else the legs driven, which are few.
    searched : dict of (int, int) to float
        Minutes of what is remembered.
    """

    streets: Minutes
    whole_days: bool = field(default=True, kw_only=True)
    searched: dict[tuple[int, int], float] = field(
        default_factory=dict, repr=False, compare=False, kw_only=True
    )

    @classmethod
    def of(cls, travel: Minutes) -> "RememberedDrives":
        """Wrap travel, unless it remembers already.

        Parameters
        ----------
        travel : Minutes

        Returns
        -------
        RememberedDrives
        """
        return travel if isinstance(travel, RememberedDrives) else cls(travel)

    def minutes(self, origins: npt.ArrayLike, destinations: npt.ArrayLike) -> Floats:
        """Driving minutes, shape (origins, destinations).

        Parameters
        ----------
        origins, destinations : array_like of int64, shape (o,) and (d,)
            Nodes.

        Returns
        -------
        (o, d) float64
            Infinite where there is no way.
        """
        start = np.atleast_1d(np.asarray(origins, dtype=np.int64))
        end = np.atleast_1d(np.asarray(destinations, dtype=np.int64))
        if len(start) == 1:
            drives = self._drives(np.full(len(end), start[0]), end)
            if drives is not None:
                return drives[None, :]
        if self.whole_days and len(start) <= STOPS_OF_A_DAY and np.array_equal(start, end):
            return self._among(start)
        return self.streets.minutes(start, end)

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
        newcomer = self._one_newcomer(nodes)
        if newcomer is not None:
            self.meet(newcomer, distinct)
            return self.legs(nodes)
        legs = np.asarray(self.minutes(distinct, distinct)[at[:-1], at[1:]], dtype=np.float64)
        if not self.whole_days:
            pairs = pairwise(nodes.tolist())
            self.searched.update(zip(pairs, legs.tolist(), strict=True))
        return legs

    def meet(self, newcomer: Integers, others: Integers) -> None:
        """Search the ways from new nodes to others and back, all at once.

        Parameters
        ----------
        newcomer : (m,) int64
        others : (k,) int64
        """
        self._search(newcomer, others)
        self._search(others, newcomer)

    def _one_newcomer(self, nodes: Integers) -> Integers | None:
        """Return the stop that all unknown legs begin or end at, the least known of two."""
        unknown = [
            {a, b} for a, b in pairwise(nodes.tolist()) if a != b and self._single(a, b) is None
        ]
        shared = sorted(set.intersection(*unknown))
        names = nodes.tolist()
        known = {a: sum(self._single(a, b) is not None for b in names) for a in shared}
        return np.array([min(shared, key=known.__getitem__)]) if shared else None

    def _among(self, nodes: Integers) -> Floats:
        """Minutes between the stops of a day, remembered: a day is asked for many times."""
        names = nodes.tolist()
        new = np.array(self._newcomers(names), dtype=np.int64)
        if len(new) * 2 >= len(nodes):
            self._search(nodes, nodes)
        elif len(new):
            self.meet(new, nodes)
        minutes = [self.searched[a, b] if a != b else 0.0 for a in names for b in names]
        return np.array(minutes, dtype=np.float64).reshape(len(names), len(names))

    def _newcomers(self, names: list[int]) -> list[int]:
        """Few nodes without which all ways between the others are remembered."""
        lacking = {a: [b for b in names if not self._remembers(a, b)] for a in names}
        met: set[int] = set()
        for node in sorted(names, key=lambda name: len(lacking[name])):
            if met.isdisjoint(lacking[node]):
                met.add(node)
        return [node for node in names if node not in met]

    def _remembers(self, a: int, b: int) -> bool:
        return a == b or ((a, b) in self.searched and (b, a) in self.searched)

    def _search(self, start: Integers, end: Integers) -> None:
        table = self.streets.minutes(start, end)
        pairs = ((a, b) for a in start.tolist() for b in end.tolist())
        self.searched.update(zip(pairs, table.reshape(-1).tolist(), strict=True))

    def _drives(self, start: npt.NDArray[np.int64], end: npt.NDArray[np.int64]) -> Floats | None:
        """Minutes of single drives, None if one of them is not known."""
        found = np.zeros(len(start))
        for place, (a, b) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
            if a != b:
                minutes = self._single(a, b)
                if minutes is None:
                    return None
                found[place] = minutes
        return found

    def _single(self, a: int, b: int) -> float | None:
        """Minutes of a drive, None if it is not known."""
        return self.searched.get((a, b))
