"""The street graph: crossings joined by driven edges, mended where the layer has gaps."""

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from forestcycle.travel.joints import cut_at_joints, join_ends
from forestcycle.travel.travel import METRES_PER_MINUTE_PER_KMH, Floats, Integers

Truths = npt.NDArray[np.bool_]

MEND_METRES = 1.0
"""Ends that lie this near to each other, or to a street, are taken to meet."""


@dataclass(frozen=True)
class StreetGraph:
    """Crossings (nodes) and the street between two of them (edges).

    Plain arrays only, so that it can be stored and sent to other processes.

    Attributes
    ----------
    start, end : (m,) int64
        Nodes of each edge, in the direction in which it is drawn.
    pace : (m,) float64
        Minutes per metre, > 0.
    one_way : (m,) bool
        Driven from ``start`` to ``end`` only.
    source_row : (m,) int64
        Row of the street layer that the edge is cut from.
    vertex_x, vertex_y, vertex_measure : (v,) float64
        Vertices of all edges one after the other, and their distance from
        the edge's start along it, in metres.
    first_vertex : (m + 1,) int64
        Edge e has the vertices ``first_vertex[e]:first_vertex[e + 1]``.
    node_x, node_y : (k,) float64
        Crossings.
    mended_ends, mended_crossings : int
        Ends moved onto another end, and streets cut where another meets them.
    """

    start: Integers
    end: Integers
    pace: Floats
    one_way: Truths
    source_row: Integers
    vertex_x: Floats
    vertex_y: Floats
    vertex_measure: Floats
    first_vertex: Integers
    node_x: Floats
    node_y: Floats
    mended_ends: int
    mended_crossings: int

    def __getstate__(self) -> dict[str, Any]:
        """Send only the fields to other processes, not what is worked out from them."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @cached_property
    def length(self) -> Floats:
        """Metres of each edge, shape (m,)."""
        result: Floats = self.vertex_measure[self.first_vertex[1:] - 1]
        return result

    @cached_property
    def lines(self) -> npt.NDArray[np.object_]:
        """Edges as LineStrings, shape (m,)."""
        edge = np.repeat(np.arange(len(self.start)), np.diff(self.first_vertex))
        points = np.column_stack([self.vertex_x, self.vertex_y])
        return np.atleast_1d(np.asarray(shapely.linestrings(points, indices=edge), dtype=object))

    @cached_property
    def arcs(self) -> "Arcs":
        """Every way to drive an edge, quickest edge between two crossings first."""
        edge = np.arange(len(self.start))
        back = ~self.one_way
        tail = np.concatenate([self.start, self.end[back]])
        head = np.concatenate([self.end, self.start[back]])
        edges = np.concatenate([edge, edge[back]])
        minutes = (self.length * self.pace)[edges]
        order = np.lexsort([minutes, head, tail])
        tail, head, edges, minutes = tail[order], head[order], edges[order], minutes[order]
        quickest = np.ones(len(tail), dtype=bool)
        quickest[1:] = (np.diff(tail) != 0) | (np.diff(head) != 0)
        quickest &= tail != head
        return Arcs(tail[quickest], head[quickest], edges[quickest], minutes[quickest])

    @cached_property
    def matrix(self) -> csr_array:
        """Minutes between neighbouring crossings, shape (k, k), sparse."""
        size = len(self.node_x)
        arcs = self.arcs
        return csr_array(coo_array((arcs.minutes, (arcs.tail, arcs.head)), shape=(size, size)))

    @cached_property
    def piece(self) -> Integers:
        """Piece of the network that each crossing belongs to, 0 the largest, shape (k,).

        Within a piece, there is a way from everywhere to everywhere and back.
        """
        _, label = connected_components(self.matrix, directed=True, connection="strong")
        metres = np.bincount(label[self.start], weights=self.length, minlength=label.max() + 1)
        rank = np.empty(len(metres), dtype=np.int64)
        rank[np.argsort(-metres, kind="stable")] = np.arange(len(metres))
        result: Integers = rank[label]
        return result

    @property
    def cut_off(self) -> Truths:
        """Whether an edge lies outside the largest piece, shape (m,)."""
        outside = self.piece != 0
        result: Truths = outside[self.start] | outside[self.end]
        return result

    def points_on(self, edge: Integers, offset: Floats) -> tuple[Floats, Floats]:
        """Find coordinates on edges.

        Parameters
        ----------
        edge : (n,) int64
        offset : (n,) float64
            Metres from the edge's start.

        Returns
        -------
        x, y : (n,) float64
        """
        points = shapely.line_interpolate_point(self.lines[edge], offset)
        return shapely.get_x(points), shapely.get_y(points)


@dataclass(frozen=True)
class Arcs:
    """Driven edges, sorted by tail and head, at most one between two crossings."""

    tail: Integers
    head: Integers
    edge: Integers
    minutes: Floats

    def between(self, tail: Integers, head: Integers) -> Integers:
        """Find the edges driven from each tail to its head.

        Parameters
        ----------
        tail, head : (k,) int64
            Crossings that an arc joins.

        Returns
        -------
        (k,) int64
        """
        size = int(max(self.tail.max(), self.head.max())) + 1
        row = np.searchsorted(self.tail * size + self.head, tail * size + head)
        return self.edge[row]


def build_streets(
    streets: gpd.GeoDataFrame, *, speed_kmh: float, mend_metres: float = MEND_METRES
) -> StreetGraph:
    """Build the graph of a street layer.

    Streets meet where they share an end or a vertex, and where the end of one
    lies within ``mend_metres`` of another's end or side. Two streets that
    cross with no vertex there do not meet: one is a bridge.

    Parameters
    ----------
    streets : GeoDataFrame
        ``one_way`` (bool; driven in the drawn direction only), ``speed_kmh``
        (NaN where not known) and LineStrings in a CRS with metre units.
    speed_kmh : float
        Where a street has no speed of its own.
    mend_metres : float
        Gaps up to this are closed.

    Returns
    -------
    StreetGraph

    Raises
    ------
    ValueError
        Where no row has a length.
    """
    lines, row = shapely.get_parts(
        np.asarray(shapely.force_2d(streets.geometry.to_numpy())), return_index=True
    )
    usable = (shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING) & (
        shapely.length(lines) > 0
    )
    lines, row = lines[usable], row[usable].astype(np.int64)
    if len(lines) == 0:
        raise ValueError("the street layer has no line with a length")
    pieces = cut_at_joints(lines, mend_metres)
    keep = pieces.lengths() > 0
    pieces = pieces if keep.all() else pieces.keep(keep)
    ends = join_ends(pieces, mend_metres)
    of_row = row[pieces.line]
    speed = streets["speed_kmh"].to_numpy(dtype=np.float64)[of_row]
    speed = np.where(np.isfinite(speed) & (speed > 0), speed, speed_kmh)
    return StreetGraph(
        start=ends.start,
        end=ends.end,
        pace=1 / (speed * METRES_PER_MINUTE_PER_KMH),
        one_way=streets["one_way"].to_numpy(dtype=bool)[of_row],
        source_row=of_row,
        vertex_x=pieces.x,
        vertex_y=pieces.y,
        vertex_measure=pieces.measure,
        first_vertex=pieces.first,
        node_x=ends.x,
        node_y=ends.y,
        mended_ends=ends.moved,
        mended_crossings=pieces.cuts,
    )
