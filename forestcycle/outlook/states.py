"""The states that trees move through: kind, size, fault on record, years until due."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forestcycle.outlook.faults import FAULTS
from forestcycle.practice.assessment import AGE_CLASSES

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

SIZES_PER_AGE = (3, 2, 2, 1)
"""Steps of size within each age class: more make the pace of growth less random."""


@dataclass(frozen=True)
class StateSpace:
    """States as a block with the axes kind, size, fault and clock.

    The clock is the whole years from a year until the visit falls due: 0 in
    the year in which it does, negative after that.

    Attributes
    ----------
    kinds : tuple of str
        Kinds of trees.
    size_from : (sizes,) float64
        Relative diameter at which each size begins, rising from 0.
    age_of_size : (sizes,) int64
        Position in ``AGE_CLASSES``.
    first_clock, last_clock : int
    """

    kinds: tuple[str, ...]
    size_from: FloatArray
    age_of_size: IntArray
    first_clock: int
    last_clock: int

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """Lengths of the axes kind, size, fault, clock."""
        clocks = self.last_clock - self.first_clock + 1
        return len(self.kinds), len(self.size_from), len(FAULTS), clocks

    @property
    def count(self) -> int:
        """Number of states."""
        return int(np.prod(self.shape))

    @property
    def clock(self) -> IntArray:
        """Years until due along the last axis."""
        return np.arange(self.first_clock, self.last_clock + 1)

    @property
    def size_width(self) -> FloatArray:
        """Relative diameter from the begin of each size to that of the next, inf for the last."""
        return np.append(np.diff(self.size_from), np.inf)

    def size_of(self, relative_diameter: FloatArray) -> IntArray:
        """Return the size of each tree.

        Parameters
        ----------
        relative_diameter : (n,) float64
            Of trunk to mature trunk.

        Returns
        -------
        (n,) int64
            Position in ``size_from``.
        """
        place = np.searchsorted(self.size_from, relative_diameter, side="right") - 1
        return np.maximum(place, 0).astype(np.int64)

    def index(self, kind: IntArray, size: IntArray, fault: IntArray, clock: IntArray) -> IntArray:
        """Return the flat position of states; clocks beyond either end are held there.

        Parameters
        ----------
        kind, size, fault, clock : int64, of one shape

        Returns
        -------
        int64, of that shape
        """
        held = np.clip(clock, self.first_clock, self.last_clock) - self.first_clock
        return np.ravel_multi_index((kind, size, fault, held), self.shape).astype(np.int64)


def state_space(
    kinds: tuple[str, ...], age_from: FloatArray, clocks: tuple[int, int]
) -> StateSpace:
    """Lay out the states.

    Parameters
    ----------
    kinds : tuple of str
    age_from : (age classes,) float64
        Relative diameter at which each age class begins.
    clocks : (int, int)
        First and last clock.

    Returns
    -------
    StateSpace
    """
    ends = np.append(age_from[1:], np.inf)
    sizes = [
        np.linspace(start, end, steps, endpoint=False) if steps > 1 else np.array([start])
        for start, end, steps in zip(age_from, ends, SIZES_PER_AGE, strict=True)
    ]
    return StateSpace(
        kinds=kinds,
        size_from=np.concatenate(sizes),
        age_of_size=np.repeat(np.arange(len(AGE_CLASSES)), SIZES_PER_AGE),
        first_clock=clocks[0],
        last_clock=clocks[1],
    )
