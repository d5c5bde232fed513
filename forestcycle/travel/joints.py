"""Where streets meet: cut them at their joints, and join ends that nearly touch."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from forestcycle.travel.travel import Floats, Integers

Shapes = npt.NDArray[np.object_]
Truths = npt.NDArray[np.bool_]

SAME_VERTEX_METRES = 0.01


@dataclass(frozen=True)
class Pieces:
    """Lines cut at their joints, vertices one after the other.

    Attributes
    ----------
    x, y, measure : (v,) float64
        Vertices, and metres from the piece's own start along it.
    first : (m + 1,) int64
        Piece e has the vertices ``first[e]:first[e + 1]``.
    line : (m,) int64
        The line that each piece was cut from.
    cuts : int
        Joints found within lines.
    """

    x: Floats
    y: Floats
    measure: Floats
    first: Integers
    line: Integers
    cuts: int

    def lengths(self) -> Floats:
        """Metres of each piece, shape (m,).

        Returns
        -------
        (m,) float64
        """
        result: Floats = self.measure[self.first[1:] - 1]
        return result

    def keep(self, wanted: Truths) -> "Pieces":
        """Drop pieces.

        Parameters
        ----------
        wanted : (m,) bool
            Which stay.

        Returns
        -------
        Pieces
        """
        count = np.diff(self.first)
        vertex = np.repeat(wanted, count)
        first = np.concatenate([[0], np.cumsum(count[wanted])])
        return Pieces(
            self.x[vertex],
            self.y[vertex],
            self.measure[vertex],
            first,
            self.line[wanted],
            self.cuts,
        )


@dataclass(frozen=True)
class Ends:
    """Which crossing each piece starts and ends at.

    Attributes
    ----------
    start, end : (m,) int64
        Numbers of crossings.
    x, y : (k,) float64
        Crossings: the middle of the ends that meet there.
    moved : int
        Ends that did not lie exactly where the others do.
    """

    start: Integers
    end: Integers
    x: Floats
    y: Floats
    moved: int


def cut_at_joints(lines: Shapes, near_metres: float) -> Pieces:
    """Cut lines where others meet them along their way.

    Parameters
    ----------
    lines : (n,) object of LineString
        Each with a length.
    near_metres : float
        An end of one line this near to another's side meets it.

    Returns
    -------
    Pieces
    """
    xy, line = shapely.get_coordinates(lines, return_index=True)
    line = line.astype(np.int64)
    measure = _measures(xy, line)
    length = shapely.length(lines)
    touched, touched_at = _touched_by_ends(lines, length, near_metres)
    shared, shared_at = _shared_vertices(xy, line, measure, length)
    joint_line = np.concatenate([touched, shared])
    joint_at = np.concatenate([touched_at, shared_at])
    joint_line, joint_at = _once(joint_line, joint_at)
    joint_xy = shapely.get_coordinates(shapely.line_interpolate_point(lines[joint_line], joint_at))
    # Each joint goes in twice: it ends one piece and starts the next.
    all_line = np.concatenate([line, joint_line, joint_line])
    all_measure = np.concatenate([measure, joint_at, joint_at])
    all_xy = np.vstack([xy, joint_xy, joint_xy])
    starts = np.concatenate(
        [
            _is_first(line),
            np.zeros(len(joint_line), dtype=bool),
            np.ones(len(joint_line), dtype=bool),
        ]
    )
    rank = np.concatenate(
        [np.ones(len(line)), np.zeros(len(joint_line)), np.full(len(joint_line), 0.5)]
    )
    order = np.lexsort([rank, all_measure, all_line])
    starts, all_line = starts[order], all_line[order]
    first = np.flatnonzero(starts)
    piece = np.cumsum(starts) - 1
    from_start = all_measure[order] - all_measure[order][first][piece]
    return Pieces(
        x=all_xy[order, 0],
        y=all_xy[order, 1],
        measure=from_start,
        first=np.append(first, len(order)),
        line=all_line[first],
        cuts=len(joint_line),
    )


def join_ends(pieces: Pieces, near_metres: float) -> Ends:
    """Give numbers to crossings, one for all ends that lie near each other.

    Parameters
    ----------
    pieces : Pieces
    near_metres : float

    Returns
    -------
    Ends
    """
    vertex = np.concatenate([pieces.first[:-1], pieces.first[1:] - 1])
    xy = np.column_stack([pieces.x[vertex], pieces.y[vertex]])
    spot, of_end = np.unique(xy, axis=0, return_inverse=True)
    of_end = of_end.reshape(-1)
    pairs = cKDTree(spot).query_pairs(near_metres, output_type="ndarray")
    near = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(spot),) * 2)
    count, crossing = connected_components(near, directed=False)
    node = crossing[of_end].astype(np.int64)
    share = np.bincount(node, minlength=count)
    x = np.bincount(node, weights=xy[:, 0], minlength=count) / share
    y = np.bincount(node, weights=xy[:, 1], minlength=count) / share
    moved = len(spot) - count
    start, end = node.reshape(2, -1)
    return Ends(start, end, x, y, moved)


def _measures(xy: Floats, line: Integers) -> Floats:
    """Distance of every vertex from the start of its line, along it."""
    step = np.zeros(len(xy))
    step[1:] = np.hypot(*(xy[1:] - xy[:-1]).T)
    first = _is_first(line)
    step[first] = 0.0
    total = np.cumsum(step)
    result: Floats = total - total[first][np.cumsum(first) - 1]
    return result


def _is_first(line: Integers) -> Truths:
    first = np.ones(len(line), dtype=bool)
    first[1:] = line[1:] != line[:-1]
    return first


def _touched_by_ends(lines: Shapes, length: Floats, near: float) -> tuple[Integers, Floats]:
    """Find where ends of lines touch the sides of others, away from their ends."""
    ends = np.concatenate([shapely.get_point(lines, 0), shapely.get_point(lines, -1)])
    of_end, line = shapely.STRtree(lines).query(ends, predicate="dwithin", distance=near)
    touching = ends[of_end]
    at = shapely.line_locate_point(lines[line], touching)
    # Ends that reach an end are joined to it later; there is nothing to cut.
    along = (at > SAME_VERTEX_METRES) & (at < length[line] - SAME_VERTEX_METRES)
    for other in (0, -1):
        along &= shapely.distance(touching, shapely.get_point(lines[line], other)) > near
    return line[along].astype(np.int64), at[along]


def _shared_vertices(
    xy: Floats, line: Integers, measure: Floats, length: Floats
) -> tuple[Integers, Floats]:
    """Find vertices along lines that another line, or the line itself, has too."""
    _, spot, count = np.unique(
        np.round(xy / SAME_VERTEX_METRES), axis=0, return_inverse=True, return_counts=True
    )
    along = (measure > SAME_VERTEX_METRES) & (measure < length[line] - SAME_VERTEX_METRES)
    shared = along & (count[spot.reshape(-1)] > 1)
    return line[shared], measure[shared]


def _once(line: Integers, at: Floats) -> tuple[Integers, Floats]:
    """Keep one of several joints at the same spot of a line."""
    order = np.lexsort([at, line])
    line, at = line[order], at[order]
    again = np.zeros(len(line), dtype=bool)
    again[1:] = (line[1:] == line[:-1]) & (np.diff(at) <= SAME_VERTEX_METRES)
    return line[~again], at[~again]
