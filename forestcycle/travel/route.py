"""The way itself: which crossings it passes, and its coordinates."""

from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from forestcycle.travel.streets import StreetGraph
from forestcycle.travel.travel import Floats, Integers

NOWHERE = -9999
"""What scipy writes where no crossing comes before."""


class Tree(NamedTuple):
    """Shortest ways from a few crossings: minutes and the crossing before, each (r, k)."""

    minutes: Floats
    before: Integers


class Stretch(NamedTuple):
    """Part of an edge as it is driven, in metres from the edge's start."""

    edge: int
    begin: float
    end: float


def search_tree(matrix: csr_array, roots: Integers, *, limit: float = np.inf) -> Tree:
    """Search the shortest ways from each root.

    Parameters
    ----------
    matrix : (k, k) csr_array
        Minutes between neighbouring crossings.
    roots : (r,) int64
    limit : float
        Minutes after which the search stops; what lies beyond is +inf.

    Returns
    -------
    Tree
    """
    minutes, before = dijkstra(matrix, indices=roots, limit=limit, return_predecessors=True)
    return Tree(minutes, before.astype(np.int64))


def walk_back(tree: Tree, row: int, crossing: int) -> Integers:
    """List the crossings from one back to the root of a row of a tree.

    Parameters
    ----------
    tree : Tree
    row : int
        Of the tree's root.
    crossing : int

    Returns
    -------
    (k,) int64
        ``crossing`` first.
    """
    before = tree.before[row]
    passed = []
    while crossing != NOWHERE:
        passed.append(crossing)
        crossing = int(before[crossing])
    return np.array(passed, dtype=np.int64)


def edges_driven(streets: StreetGraph, crossings: Integers) -> list[Stretch]:
    """Turn a row of crossings into the edges driven between them.

    Parameters
    ----------
    streets : StreetGraph
    crossings : (k,) int64
        In the order of driving.

    Returns
    -------
    list of Stretch
        K - 1, none for a single crossing.
    """
    if len(crossings) < 2:
        return []
    edges = streets.arcs.between(crossings[:-1], crossings[1:])
    forwards = streets.start[edges] == crossings[:-1]
    length = streets.length[edges]
    begin, end = np.where(forwards, 0.0, length), np.where(forwards, length, 0.0)
    return [
        Stretch(*stretch)
        for stretch in zip(edges.tolist(), begin.tolist(), end.tolist(), strict=True)
    ]


def draw(streets: StreetGraph, stretches: list[Stretch]) -> Floats:
    """Coordinates of stretches driven one after the other, shape (k, 2), none twice in a row.

    Parameters
    ----------
    streets : StreetGraph
    stretches : list of Stretch

    Returns
    -------
    (k, 2) float64
        Eastings and northings in metres.
    """
    points = np.vstack([_points(streets, stretch) for stretch in stretches])
    moved = np.ones(len(points), dtype=bool)
    moved[1:] = (np.diff(points, axis=0) != 0).any(axis=1)
    result: Floats = points[moved]
    return result


def _points(streets: StreetGraph, stretch: Stretch) -> Floats:
    vertices = slice(*streets.first_vertex[stretch.edge : stretch.edge + 2])
    measure = streets.vertex_measure[vertices]
    x, y = streets.vertex_x[vertices], streets.vertex_y[vertices]
    low, high = sorted([stretch.begin, stretch.end])
    within = measure[(measure > low) & (measure < high)]
    at = np.concatenate([[low], within, [high]])
    points = np.column_stack([np.interp(at, measure, x), np.interp(at, measure, y)])
    return points if stretch.begin <= stretch.end else points[::-1]
