"""Put trees and depots onto the street graph, at the very spot along an edge."""

from dataclasses import dataclass

import numpy as np
import shapely

from forestcycle.travel.streets import StreetGraph
from forestcycle.travel.travel import Floats, Integers


@dataclass(frozen=True)
class Snapped:
    """Spots on the street graph.

    Attributes
    ----------
    edge : (n,) int64
        Edge of the graph.
    offset : (n,) float64
        Metres from the edge's start along it.
    metres_off : (n,) float64
        From the spot to the point that was snapped.
    """

    edge: Integers
    offset: Floats
    metres_off: Floats

    def __len__(self) -> int:
        return len(self.edge)


def snap(x: Floats, y: Floats, streets: StreetGraph) -> Snapped:
    """Find the nearest spot on any street.

    Where a point lies equally near to several edges, the first of them is
    taken, so that the outcome does not depend on chance.

    Parameters
    ----------
    x, y : (n,) float64
        Metres, in the CRS of the streets.
    streets : StreetGraph

    Returns
    -------
    Snapped
    """
    points = np.atleast_1d(np.asarray(shapely.points(x, y), dtype=object))
    if len(points) == 0:
        nothing = np.empty(0, dtype=np.float64)
        return Snapped(np.empty(0, dtype=np.int64), nothing, nothing)
    found, distance = shapely.STRtree(streets.lines).query_nearest(
        points, return_distance=True, all_matches=True
    )
    order = np.lexsort([found[1], found[0]])
    point, edge = found[0][order], found[1][order]
    _, first = np.unique(point, return_index=True)
    nearest = edge[first].astype(np.int64)
    offset = shapely.line_locate_point(streets.lines[nearest], points)
    # Lengths are summed in another order here and there: keep within the edge.
    offset = np.clip(offset, 0.0, streets.length[nearest])
    return Snapped(nearest, offset, distance[order][first])


def join_snapped(first: Snapped, second: Snapped) -> Snapped:
    """Put two lists of spots one after the other.

    Parameters
    ----------
    first : Snapped
    second : Snapped

    Returns
    -------
    Snapped
    """
    return Snapped(
        np.concatenate([first.edge, second.edge]),
        np.concatenate([first.offset, second.offset]),
        np.concatenate([first.metres_off, second.metres_off]),
    )
