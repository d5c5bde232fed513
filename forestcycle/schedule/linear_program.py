"""A linear program as sparse arrays, and what solving it gives."""

from dataclasses import dataclass

from scipy.sparse import csr_array

from forestcycle.schedule.problem import FloatArray


@dataclass(frozen=True)
class LinearProgram:
    """Maximise ``worth @ x`` with ``0 <= x <= most`` and ``low <= rows @ x <= high``.

    Attributes
    ----------
    worth, most : (v,) float64
    rows : (r, v) sparse float64
    low, high : (r,) float64
        May be infinite.
    """

    worth: FloatArray
    most: FloatArray
    rows: csr_array
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class Solution:
    """What a solver returns.

    Attributes
    ----------
    x : (v,) float64
    price : (r,) float64
        Dual value of each row: what one more unit of its right side is worth.
    """

    x: FloatArray
    price: FloatArray
