"""Exact street minutes between spots part-way along edges.

A way from one spot to another leaves its edge at one of two crossings and
enters the other's edge at one of two: minutes between crossings come from
the street graph, the rest from where the spots lie on their edges. Where
both lie on one edge in driving order, the edge itself is a way too. All
this is a shortest way in one network, so that minutes keep the triangle
inequality.
"""

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from forestcycle.errors import Fault
from forestcycle.travel.crossings import CrossingMinutes, widening
from forestcycle.travel.route import Stretch, Tree, draw, edges_driven, search_tree, walk_back
from forestcycle.travel.snap import Snapped
from forestcycle.travel.streets import StreetGraph
from forestcycle.travel.travel import METRES_PER_MINUTE_PER_KMH, Floats, Integers

OFF_STREET_KMH = 5.0
"""Between street and a place off it, a truck moves at walking pace (assumption)."""


class Gates(NamedTuple):
    """How spots and crossings connect: crossing and minutes, each of shape (n, 2).

    Minutes are +inf where a one-way street forbids it.
    """

    crossing: Integers
    minutes: Floats


@dataclass(frozen=True)
class StreetTravel:
    """Shortest minutes along the streets.

    Attributes
    ----------
    streets : StreetGraph
    spots : Snapped
        Places, then depots, on the graph.
    x, y : (p + d,) float64
        Places, then depots; off the street where they stand off it.
    place_count : int
        Number of places, p.
    notes : tuple of Fault
        What the forester should know of the street layer.
    """

    streets: StreetGraph
    spots: Snapped
    x: Floats
    y: Floats
    place_count: int
    notes: tuple[Fault, ...] = ()
    kind: Literal["streets"] = "streets"

    def __getstate__(self) -> dict[str, Any]:
        """Send only the fields to other processes, not what is worked out from them."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @cached_property
    def _crossings(self) -> CrossingMinutes:
        """Minutes between crossings; every crew-day asks for those at its depot."""
        depots = np.arange(self.place_count, len(self.spots))
        return CrossingMinutes(self.streets, np.unique(self._exits(depots).crossing))

    @cached_property
    def unreachable(self) -> Integers:
        """Nodes that no depot can both send a truck to and get back from."""
        everywhere = np.arange(len(self.spots))
        depots = everywhere[self.place_count :]
        round_trip = self.minutes(depots, everywhere) + self.minutes(everywhere, depots).T
        return np.flatnonzero(~np.isfinite(round_trip).any(axis=0)).astype(np.int64)

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
        start = np.atleast_1d(np.asarray(origins, dtype=np.int64))
        end = np.atleast_1d(np.asarray(destinations, dtype=np.int64))
        table = np.full((len(start), len(end)), np.inf)
        if table.size == 0:
            return table
        leaving, arriving = self._exits(start), self._entries(end)
        starts, start_row = np.unique(leaving.crossing, return_inverse=True)
        ends, end_row = np.unique(arriving.crossing, return_inverse=True)
        start_row, end_row = start_row.reshape(-1, 2), end_row.reshape(-1, 2)
        between = self._crossings.minutes(starts, ends)
        for side_out in (0, 1):
            for side_in in (0, 1):
                way = between[np.ix_(start_row[:, side_out], end_row[:, side_in])]
                way += leaving.minutes[:, side_out, None]
                way += arriving.minutes[None, :, side_in]
                np.minimum(table, way, out=table)
        self._shorten_along_edges(table, start, end)
        return table

    def path(self, origin: int, destination: int) -> Floats:
        """Coordinates of the quickest way, shape (k, 2); shape (0, 2) where there is none.

        It begins and ends at the nodes themselves, off the street where they
        stand off it.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        (k, 2) float64
            Eastings and northings in metres.
        """
        if origin == destination:
            return self._node_points([origin, destination])
        along = float(self._along_edge(np.array([origin]), np.array([destination]))[0])
        minutes, stretches = self._through_crossings(origin, destination)
        if not np.isfinite(min(along, minutes)):
            return np.empty((0, 2))
        if along <= minutes:
            edge, begin = self._spot(origin)
            stretches = [Stretch(edge, begin, self._spot(destination)[1])]
        way = draw(self.streets, stretches)
        first, last = self._node_points([origin]), self._node_points([destination])
        return np.vstack(
            [
                first[: self._stands_off(origin)],
                way,
                last[: self._stands_off(destination)],
            ]
        )

    def metres(self, origin: int, destination: int) -> float:
        """Length of the quickest way; +inf where there is none.

        Parameters
        ----------
        origin, destination : int
            Nodes.

        Returns
        -------
        float
        """
        way = self.path(origin, destination)
        if len(way) == 0:
            return float("inf")
        return float(np.hypot(*np.diff(way, axis=0).T).sum())

    # Between spots and crossings

    def _exits(self, nodes: Integers) -> Gates:
        """Ways from spots to the crossings at either end of their edge."""
        back, forth = self._to_ends(nodes)
        back[self.streets.one_way[self.spots.edge[nodes]]] = np.inf
        return self._gates(nodes, back, forth)

    def _entries(self, nodes: Integers) -> Gates:
        """Ways from the crossings at either end of an edge to the spots on it."""
        forth, back = self._to_ends(nodes)
        back[self.streets.one_way[self.spots.edge[nodes]]] = np.inf
        return self._gates(nodes, forth, back)

    def _to_ends(self, nodes: Integers) -> tuple[Floats, Floats]:
        edge, offset = self.spots.edge[nodes], self.spots.offset[nodes]
        pace = self.streets.pace[edge]
        return offset * pace, (self.streets.length[edge] - offset) * pace

    def _gates(self, nodes: Integers, at_start: Floats, at_end: Floats) -> Gates:
        edge, aside = self.spots.edge[nodes], self._aside[nodes]
        return Gates(
            np.column_stack([self.streets.start[edge], self.streets.end[edge]]),
            np.column_stack([at_start + aside, at_end + aside]),
        )

    @cached_property
    def _aside(self) -> Floats:
        """Minutes between each node and its spot on the street."""
        result: Floats = self.spots.metres_off / (OFF_STREET_KMH * METRES_PER_MINUTE_PER_KMH)
        return result

    def _along_edge(self, start: Integers, end: Integers) -> Floats:
        """Minutes from spot to spot along their common edge; +inf where there is none."""
        edge = self.spots.edge[start]
        metres = self.spots.offset[end] - self.spots.offset[start]
        open_way = (edge == self.spots.edge[end]) & ((metres >= 0) | ~self.streets.one_way[edge])
        minutes = np.abs(metres) * self.streets.pace[edge] + self._aside[start] + self._aside[end]
        return np.where(open_way, minutes, np.inf)

    def _shorten_along_edges(self, table: Floats, start: Integers, end: Integers) -> None:
        """Take the way along the edge where both spots lie on it and it is quicker."""
        same = self.spots.edge[start][:, None] == self.spots.edge[end][None, :]
        row, column = np.nonzero(same)
        along = self._along_edge(start[row], end[column])
        table[row, column] = np.minimum(table[row, column], along)
        table[start[:, None] == end[None, :]] = 0.0

    # One way in full

    def _through_crossings(self, origin: int, destination: int) -> tuple[float, list[Stretch]]:
        """Find the quickest way that passes a crossing: its minutes and stretches."""
        leaving, arriving = self._exits(np.array([origin])), self._entries(np.array([destination]))
        homewards = destination >= self.place_count
        if homewards:
            tree = self._depot_tree(destination, homewards=True)
            between = tree.minutes[:, leaving.crossing[0]].T
        else:
            tree = self._tree_towards(origin, destination, leaving, arriving)
            between = tree.minutes[:, arriving.crossing[0]]
        minutes = leaving.minutes[0][:, None] + between + arriving.minutes[0]
        side_out, side_in = np.unravel_index(np.argmin(minutes), (2, 2))
        least = float(minutes[side_out, side_in])
        if not np.isfinite(least):
            return least, []
        if homewards:
            passed = walk_back(tree, int(side_in), int(leaving.crossing[0, side_out]))
        else:
            passed = walk_back(tree, int(side_out), int(arriving.crossing[0, side_in]))[::-1]
        first, begin = self._spot(origin)
        last, end = self._spot(destination)
        length = self.streets.length
        return least, [
            Stretch(first, begin, float(length[first]) if side_out else 0.0),
            *edges_driven(self.streets, passed),
            Stretch(last, float(length[last]) if side_in else 0.0, end),
        ]

    def _tree_towards(self, origin: int, destination: int, leaving: Gates, arriving: Gates) -> Tree:
        """Search from a node no farther than it takes to be sure of the way to another."""
        if origin >= self.place_count:
            return self._depot_tree(origin, homewards=False)
        air = np.hypot(self.x[origin] - self.x[destination], self.y[origin] - self.y[destination])
        for limit in widening(1.0 + 2 * air * float(self.streets.pace.mean())):
            tree = search_tree(self.streets.matrix, leaving.crossing[0], limit=limit)
            between = tree.minutes[:, arriving.crossing[0]]
            if (leaving.minutes[0][:, None] + between + arriving.minutes[0]).min() <= limit:
                break
        return tree

    def _depot_tree(self, depot: int, *, homewards: bool) -> Tree:
        """Search from or to a depot once and for all."""
        key = (depot, homewards)
        if key not in self._depot_trees:
            matrix = self._crossings.backwards if homewards else self.streets.matrix
            edge = self.spots.edge[depot]
            roots = np.array([self.streets.start[edge], self.streets.end[edge]])
            self._depot_trees[key] = search_tree(matrix, roots)
        return self._depot_trees[key]

    @cached_property
    def _depot_trees(self) -> dict[tuple[int, bool], Tree]:
        return {}

    def _stands_off(self, node: int) -> int:
        return int(self.spots.metres_off[node] > 0)

    def _spot(self, node: int) -> tuple[int, float]:
        return int(self.spots.edge[node]), float(self.spots.offset[node])

    def _node_points(self, nodes: list[int]) -> Floats:
        return np.column_stack([self.x[nodes], self.y[nodes]])
