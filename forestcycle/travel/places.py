"""Which trees share a parking place.

A truck parks once and its crew works every tree within reach. On a street,
trees of both sides of one block belong together; off the street, trees of
one square of ground do.
"""

from dataclasses import dataclass

import numpy as np

from forestcycle.travel.snap import Snapped, join_snapped, snap
from forestcycle.travel.streets import StreetGraph
from forestcycle.travel.travel import Floats, Integers

SAME_SPOT_METRES = 0.01


@dataclass(frozen=True)
class Places:
    """Parking places.

    Attributes
    ----------
    of_tree : (n,) int64
        Place of each tree, 0..p-1.
    x, y : (p,) float64
        On the street where the trees stand along one, else amid the trees.
    on_street : Snapped or None
        The same places on the street graph; None without one.
    """

    of_tree: Integers
    x: Floats
    y: Floats
    on_street: Snapped | None = None

    def __len__(self) -> int:
        return len(self.x)


def group_places(x: Floats, y: Floats, streets: StreetGraph | None, *, metres: float) -> Places:
    """Group trees into parking places.

    Every tree lies within ``metres`` of its place: along the street, for
    trees that stand within ``metres`` of one; through the air, for all
    others. The order of the trees does not matter for who shares a place.

    Parameters
    ----------
    x, y : (n,) float64
        Trees, in metres.
    streets : StreetGraph or None
        Without streets, only the ground counts.
    metres : float
        How far a crew works from its truck, >= 0. At 0, only trees at one
        spot share a place.

    Returns
    -------
    Places
    """
    if streets is None:
        of_tree, centre_x, centre_y = _share_ground(x, y, metres)
        return Places(of_tree, centre_x, centre_y)
    at = snap(x, y, streets)
    along = at.metres_off <= metres
    of_tree = np.empty(len(x), dtype=np.int64)
    of_tree[along], edge, offset = _share_street(at.edge[along], at.offset[along], metres)
    street_x, street_y = streets.points_on(edge, offset)
    kerbside = Snapped(edge, offset, np.zeros(len(edge)))
    ground, ground_x, ground_y = _share_ground(x[~along], y[~along], metres)
    of_tree[~along] = ground + len(edge)
    return Places(
        of_tree,
        np.concatenate([street_x, ground_x]),
        np.concatenate([street_y, ground_y]),
        join_snapped(kerbside, snap(ground_x, ground_y, streets)),
    )


def _share_street(
    edge: Integers, offset: Floats, metres: float
) -> tuple[Integers, Integers, Floats]:
    """Split the planted part of every edge evenly, into as few parts as reach allows."""
    edges, of_tree = np.unique(edge, return_inverse=True)
    low, high = _spans(of_tree, offset, len(edges))
    part = _part(offset, low[of_tree], high[of_tree], metres)
    keys, place = np.unique(np.column_stack([of_tree, part]), axis=0, return_inverse=True)
    place = place.reshape(-1)
    low, high = _spans(place, offset, len(keys))
    return place.astype(np.int64), edges[keys[:, 0]], (low + high) / 2


def _share_ground(x: Floats, y: Floats, metres: float) -> tuple[Integers, Floats, Floats]:
    """Lay squares over the ground whose corners lie within reach of the middle."""
    side = max(metres * np.sqrt(2), SAME_SPOT_METRES)
    cell = np.floor(np.column_stack([x, y]) / side).astype(np.int64)
    keys, place = np.unique(cell, axis=0, return_inverse=True)
    place = place.reshape(-1)
    west, east = _spans(place, x, len(keys))
    south, north = _spans(place, y, len(keys))
    return place.astype(np.int64), (west + east) / 2, (south + north) / 2


def _spans(group: Integers, value: Floats, groups: int) -> tuple[Floats, Floats]:
    low, high = np.full(groups, np.inf), np.full(groups, -np.inf)
    np.minimum.at(low, group, value)
    np.maximum.at(high, group, value)
    return low, high


def _part(offset: Floats, low: Floats, high: Floats, metres: float) -> Integers:
    span = high - low
    parts = np.maximum(np.ceil(span / max(2 * metres, SAME_SPOT_METRES)), 1)
    share = np.divide(offset - low, span, out=np.zeros_like(span), where=span > 0)
    part: Integers = np.minimum(np.floor(share * parts), parts - 1).astype(np.int64)
    return part
