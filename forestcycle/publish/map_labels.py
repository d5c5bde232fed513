"""Numbers on a paper map that do not cover one another."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Coordinates = NDArray[np.float64]

GAP = 1.0
"""Points between two labels."""
RING, FARTHEST, DIRECTIONS = 3.0, 120.0, 24
"""Points between two rings of spots to try, the farthest ring, and spots on each."""


def _offsets() -> Coordinates:
    """Spots to try around a label's own, the nearest first."""
    radius = np.repeat(np.arange(RING, FARTHEST + RING, RING), DIRECTIONS)
    angle = np.tile(
        np.linspace(0, 2 * np.pi, DIRECTIONS, endpoint=False), len(radius) // DIRECTIONS
    )
    rings = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return np.vstack([[0.0, 0.0], rings])


OFFSETS = np.split(_offsets(), [1, 1 + 4 * DIRECTIONS])
"""A label's own spot, the rings next to it, and the others: most labels need not go far."""


@dataclass(frozen=True)
class StopLabel:
    """One label for one or more stops at the same spot.

    Attributes
    ----------
    x, y : float
        The spot on the page in points.
    text : str
        ``4`` or ``4-6, 9``.
    """

    x: float
    y: float
    text: str


def stop_labels(points: Coordinates, *, apart: float = 4.0) -> list[StopLabel]:
    """Give stops their numbers, with one label where several stand at one spot.

    Parameters
    ----------
    points : float64 (k, 2)
        On the page, in the order of the day.
    apart : float
        Stops nearer than this share a label, in points.

    Returns
    -------
    list of StopLabel
    """
    spots: list[NDArray[np.float64]] = []
    numbers: list[list[int]] = []
    for number, point in enumerate(points, start=1):
        near = [k for k, spot in enumerate(spots) if np.hypot(*(spot - point)) < apart]
        if near:
            numbers[near[0]].append(number)
        else:
            spots.append(point)
            numbers.append([number])
    return [
        StopLabel(float(spot[0]), float(spot[1]), ranges(group))
        for spot, group in zip(spots, numbers, strict=True)
    ]


def ranges(numbers: list[int]) -> str:
    """Write ascending whole numbers shortly: ``1-3, 7``.

    Parameters
    ----------
    numbers : list of int

    Returns
    -------
    str
    """
    spans: list[list[int]] = []
    for n in numbers:
        if spans and n == spans[-1][-1] + 1:
            spans[-1] = [spans[-1][0], n]
        else:
            spans.append([n])
    return ", ".join("-".join(str(n) for n in span) for span in spans)


def spread(
    centres: Coordinates,
    sizes: Coordinates,
    box: tuple[float, float, float, float],
    *,
    kept_free: Sequence[tuple[float, float, float, float]] = (),
) -> Coordinates:
    """Move labels to the nearest free spot, so that none covers another.

    Parameters
    ----------
    centres : float64 (k, 2)
        Where they would stand, in points.
    sizes : float64 (k, 2)
        Width and height.
    box : tuple of float
        Left, bottom, right, top: they stay inside.
    kept_free : sequence of tuple of float
        Boxes that no label may cover.

    Returns
    -------
    float64 (k, 2)
        Placed in order, the first where it would stand; one without a free spot stays.
    """
    low, high = np.array(box[:2]), np.array(box[2:])
    boxes = np.array(kept_free, dtype=float).reshape(-1, 4)
    placed: Coordinates = (boxes[:, :2] + boxes[:, 2:]) / 2
    taken = boxes[:, 2:] - boxes[:, :2]
    for centre, size in zip(centres, sizes, strict=True):
        least = (size + taken) / 2 + GAP
        low_centre, high_centre = low + size / 2, high - size / 2
        spot = np.clip(centre, low_centre, high_centre)
        for offsets in OFFSETS:
            tried = np.clip(centre + offsets, low_centre, high_centre)
            covers = (np.abs(tried[:, None, :] - placed) < least - 1e-9).all(axis=2).any(axis=1)
            if not covers.all():
                spot = tried[np.argmin(covers)]
                break
        placed = np.vstack([placed, spot])
        taken = np.vstack([taken, size])
    return placed[len(boxes) :]
