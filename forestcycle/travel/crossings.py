"""Quickest minutes between crossings of a street graph.

Shortest ways are searched with Dijkstra's algorithm, and no further than must be: ways from
and to the crossings that everybody asks for once for all, ways among neighbours in their part
of the graph, ways from a few crossings up to a limit that is widened until all are reached.
What is found is exact in each case.
"""

from collections.abc import Iterator
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from forestcycle.travel.streets import StreetGraph
from forestcycle.travel.travel import Floats, Integers

MOST_CELLS = 8_000_000
"""Minutes held at once while a large table is worked out."""
FEW_CROSSINGS = 16
"""Up to this many starts, finding the region first is not worth its time."""
LIKELY_DETOUR = 4.0
"""Ways up to so many times the air distance are looked for first."""
WIDER, MOST_WIDENED = 4.0, 4
ROUNDING = 1 + 1e-9


def widening(limit: float) -> Iterator[float]:
    """Limits of a search, to be tried until what is looked for is reached.

    Parameters
    ----------
    limit : float
        The first; must be above 0 to grow.

    Yields
    ------
    float
        Each several times the one before, and at last infinity.
    """
    for _ in range(MOST_WIDENED):
        yield limit
        limit *= WIDER
    yield np.inf


class CrossingMinutes:
    """Quickest minutes between crossings.

    Parameters
    ----------
    streets : StreetGraph
    often : (k,) int64
        Crossings from and to which ways are asked for all the time, rising.
    """

    def __init__(self, streets: StreetGraph, often: Integers) -> None:
        self._streets = streets
        self._often = often

    @cached_property
    def backwards(self) -> csr_array:
        """Minutes of each street the other way round."""
        return csr_array(self._streets.matrix.T)

    def minutes(self, starts: Integers, ends: Integers) -> Floats:
        """Minutes between crossings.

        Parameters
        ----------
        starts : (m,) int64
        ends : (n,) int64

        Returns
        -------
        (m, n) float64
            +inf where there is no way.
        """
        leaving, arriving = np.isin(starts, self._often), np.isin(ends, self._often)
        table = np.empty((len(starts), len(ends)))
        if leaving.any():
            table[leaving] = self._from_often[self._row(starts[leaving])][:, ends]
        if arriving.any():
            table[:, arriving] = self._to_often[self._row(ends[arriving])][:, starts].T
        away, home = np.flatnonzero(~leaving), np.flatnonzero(~arriving)
        if len(away) and len(home):
            table[np.ix_(away, home)] = self._searched(starts[away], ends[home])
        return table

    @cached_property
    def _from_often(self) -> Floats:
        return np.asarray(dijkstra(self._streets.matrix, indices=self._often))

    @cached_property
    def _to_often(self) -> Floats:
        return np.asarray(dijkstra(self.backwards, indices=self._often))

    def _row(self, crossings: Integers) -> Integers:
        return np.searchsorted(self._often, crossings)

    def _searched(self, starts: Integers, ends: Integers) -> Floats:
        """Search from the side that has fewer crossings."""
        if len(ends) < len(starts):
            return self._search(self.backwards, ends, starts).T
        return self._search(self._streets.matrix, starts, ends)

    def _search(self, matrix: csr_array, sources: Integers, targets: Integers) -> Floats:
        if len(sources) <= FEW_CROSSINGS:
            return self._search_around(matrix, sources, targets)
        region, limit = self.region(np.union1d(sources, targets))
        if len(region) < matrix.shape[0] / 2:
            matrix = matrix[region][:, region]
            sources, targets = np.searchsorted(region, sources), np.searchsorted(region, targets)
        result = np.empty((len(sources), len(targets)))
        step = max(1, MOST_CELLS // matrix.shape[0])
        for first in range(0, len(sources), step):
            rows = slice(first, first + step)
            result[rows] = dijkstra(matrix, indices=sources[rows], limit=limit)[:, targets]
        return result

    def _search_around(self, matrix: csr_array, sources: Integers, targets: Integers) -> Floats:
        """Search from a few crossings, no further than is needed to reach all targets."""
        x, y = self._streets.node_x, self._streets.node_y
        away = np.hypot(x[sources][:, None] - x[targets], y[sources][:, None] - y[targets])
        for limit in widening(self._likely_minutes(float(away.max()))):
            minutes = np.asarray(dijkstra(matrix, indices=sources, limit=limit)[:, targets])
            if np.isfinite(minutes).all():
                break
        return minutes

    def region(self, crossings: Integers) -> tuple[Integers, float]:
        """Crossings that a shortest way between any two of the given ones can pass.

        Let c be one crossing amid them and r(x) the minutes from c to x and
        back. A crossing x on the shortest way from a to b has
        r(x) <= c-a-b-c <= r(a) + r(b), so that none with r(x) above twice the
        largest r is needed.

        Parameters
        ----------
        crossings : (m,) int64

        Returns
        -------
        region : (k,) int64
            Sorted.
        limit : float
            No way between two of the crossings takes longer.
        """
        x, y = self._streets.node_x[crossings], self._streets.node_y[crossings]
        away = np.hypot(x - x.mean(), y - y.mean())
        middle = crossings[np.argmin(away)]
        for limit in widening(2 * self._likely_minutes(float(away.max()))):
            out, home = self._out_and_home(middle, limit)
            reach = 2 * float((out + home)[crossings].max()) * ROUNDING
            if np.isfinite(reach):
                break
        if reach > limit:
            out, home = self._out_and_home(middle, reach)
        longest = float(out[crossings].max() + home[crossings].max()) * ROUNDING
        return np.flatnonzero(out + home <= reach).astype(np.int64), longest

    def _out_and_home(self, crossing: np.int64, limit: float) -> tuple[Floats, Floats]:
        """Minutes from a crossing to each and back, +inf beyond a limit, shape (crossings,)."""
        at = np.array([crossing])
        out = dijkstra(self._streets.matrix, indices=at, limit=limit)
        return out[0], dijkstra(self.backwards, indices=at, limit=limit)[0]

    def _likely_minutes(self, metres: float) -> float:
        """Minutes in which a crossing so far away by air can most likely be reached."""
        return LIKELY_DETOUR * metres * self._usual_pace

    @cached_property
    def _usual_pace(self) -> float:
        """Minutes per metre of the street in the middle."""
        return float(np.median(self._streets.pace)) if len(self._streets.pace) else 0.0
