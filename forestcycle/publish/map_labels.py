"""Numbers on a paper map that do not cover one another."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ROUNDS = 80
GAP = 1.0
"""Points between two labels."""

Coordinates = NDArray[np.float64]


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
    centres: Coordinates, sizes: Coordinates, box: tuple[float, float, float, float]
) -> Coordinates:
    """Push labels apart until none covers another, each the shorter way.

    Parameters
    ----------
    centres : float64 (k, 2)
        Where they would stand, in points.
    sizes : float64 (k, 2)
        Width and height.
    box : tuple of float
        Left, bottom, right, top: they stay inside.

    Returns
    -------
    float64 (k, 2)
        Near their old places; where the box is too full some still touch.
    """
    placed = centres + 0.01 * np.column_stack([np.arange(len(centres)), -np.arange(len(centres))])
    least = (sizes[:, None, :] + sizes[None, :, :]) / 2 + GAP
    low = np.array(box[:2]) + sizes / 2
    high = np.array(box[2:]) - sizes / 2
    for _ in range(ROUNDS):
        offset = placed[:, None, :] - placed[None, :, :]
        overlap = least - np.abs(offset)
        touching = (overlap > 0).all(axis=2)
        np.fill_diagonal(touching, val=False)
        if not touching.any():
            break
        shorter = overlap[:, :, 0] < overlap[:, :, 1]
        push = np.where(np.stack([shorter, ~shorter], axis=2), overlap * np.sign(offset), 0.0)
        placed = placed + 0.5 * np.where(touching[:, :, None], push, 0.0).sum(axis=1)
        placed = np.clip(placed, low, high)
    return placed
