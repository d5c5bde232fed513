"""Work items of all trees, in columns."""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np
import numpy.typing as npt

from forestcycle.practice.catalogue import FloatArray, IntArray

NO_DEFECT = -1
NO_FINDING = -1
DOSE_ROUNDING = 1e-9


@dataclass(frozen=True)
class Items:
    """Work items, one entry each, sorted by tree and, within a tree, by order of work.

    Attributes
    ----------
    tree : ndarray of int64
        Row of the tree.
    finding : ndarray of int64
        Entry in the findings, -1 for the look that begins a visit to a tree
        without record.
    defect, action : ndarray of int64
        Codes in the catalogue; defect -1 where there is none.
    stage : ndarray of int64
        0, or 1 for work that must wait for a later visit than stage 0 of
        the same finding.
    dose : ndarray of float64
        Share of live crown.
    cut_cm : ndarray of float64
        Diameter of the largest cut, 0 for none.
    visit : ndarray of int64
        1, 2, ...; 0 as long as the items are not packed.
    """

    tree: IntArray
    finding: IntArray
    defect: IntArray
    action: IntArray
    stage: IntArray
    dose: FloatArray
    cut_cm: FloatArray
    visit: IntArray

    def __len__(self) -> int:
        return len(self.tree)

    def take(self, rows: npt.NDArray[np.int64] | npt.NDArray[np.bool_]) -> Self:
        """Return some of the items.

        Parameters
        ----------
        rows : ndarray of int64 or bool
            Which, by position or by mask.

        Returns
        -------
        Items
        """
        return type(self)(*(getattr(self, field.name)[rows] for field in fields(self)))

    def trees_with(self, defect: int, trees: int) -> npt.NDArray[np.bool_]:
        """Say which trees have work for a defect.

        Parameters
        ----------
        defect : int
            Code in the catalogue.
        trees : int
            How many there are.

        Returns
        -------
        (n,) bool
        """
        having = np.zeros(trees, dtype=np.bool_)
        having[self.tree[self.defect == defect]] = True
        return having

    @classmethod
    def join(cls, first: Self, second: Self) -> Self:
        """Return two sets of items as one.

        Parameters
        ----------
        first, second : Items

        Returns
        -------
        Items
            Sorted by tree; within a tree, those of ``first`` come first.
        """
        joined = cls(
            *(
                np.concatenate([getattr(first, field.name), getattr(second, field.name)])
                for field in fields(cls)
            )
        )
        return joined.take(np.argsort(joined.tree, kind="stable"))
