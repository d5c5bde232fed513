"""Which block a tree stands on: its street, between which two others."""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from forestcycle.publish.sketch_streets import Streets, index_streets


@dataclass(frozen=True)
class _Crossings:
    """Where other streets meet one line: metres along it, in order, and their names."""

    along: NDArray[np.float64]
    names: list[str]


def blocks_of(
    points: NDArray[np.object_], names: list[str], streets: gpd.GeoDataFrame | None
) -> list[str]:
    """Name the block of each point in words.

    Parameters
    ----------
    points : (n,) array of Point
    names : list of str
        The street that each is on by its address; the empty text where not known.
    streets : GeoDataFrame or None
        With ``street`` and lines, in the same CRS.

    Returns
    -------
    list of str
        Such as ``between First Avenue and Quay Avenue``, ``from First Avenue on`` or the empty
        text where no street crosses or there is no layer. The nearest line of the street's name
        within 60 m counts, else the nearest line.
    """
    index = index_streets(streets)
    if len(index.lines) == 0:
        return [""] * len(points)
    lines = _own_lines(points, names, index)
    known = {line: _crossings(int(line), index) for line in np.unique(lines)}
    along = shapely.line_locate_point(index.lines[lines], points)
    return [_between(known[line], metres) for line, metres in zip(lines, along, strict=True)]


def _own_lines(points: NDArray[np.object_], names: list[str], index: Streets) -> NDArray[np.int64]:
    lines = np.asarray(index.tree.nearest(points), dtype=np.int64)
    which, near = index.tree.query(points, predicate="dwithin", distance=60.0)
    same = np.array([names[p] == index.names[k] for p, k in zip(which, near, strict=True)], bool)
    which, near = which[same], near[same]
    order = np.argsort(shapely.distance(points[which], index.lines[near]), kind="stable")[::-1]
    lines[which[order]] = near[order]
    return lines


def _crossings(line: int, index: Streets) -> _Crossings:
    own = index.lines[line]
    found: dict[str, set[float]] = {}
    for other in index.tree.query(own, predicate="intersects"):
        name = index.names[other]
        if not name or name == index.names[line]:
            continue
        meeting = shapely.get_coordinates(shapely.intersection(own, index.lines[other]))
        metres = shapely.line_locate_point(own, shapely.points(meeting))
        found.setdefault(name, set()).update(np.round(metres, 1).tolist())
    pairs = sorted((metre, name) for name, metres in found.items() for metre in metres)
    return _Crossings(np.array([metre for metre, _ in pairs]), [name for _, name in pairs])


def _between(crossings: _Crossings, metres: float) -> str:
    after = int(np.searchsorted(crossings.along, metres, side="right"))
    ends = [crossings.names[k] for k in (after - 1, after) if 0 <= k < len(crossings.names)]
    if len(ends) == 2:
        return f"between {ends[0]} and {ends[1]}" if ends[0] != ends[1] else f"at {ends[0]}"
    return f"from {ends[0]} on" if ends else ""
