"""Doses and limits in the whole percentages that crews read: nobody judges a crown finer."""

import numpy as np

from forestcycle.practice.catalogue import FloatArray

ROUNDING = 1e-6


def limit_percent(limit: FloatArray) -> FloatArray:
    """Write limits as whole percentages, rounded down.

    Parameters
    ----------
    limit : (n,) float64
        Shares of live crown, 0 to 1; NaN stays NaN.

    Returns
    -------
    (n,) float64
    """
    return np.floor(100 * limit + ROUNDING)


def dose_percent(dose: FloatArray, limit: FloatArray) -> FloatArray:
    """Write doses as whole percentages: the nearest, at least 1 of any dose, never past the limit.

    Parameters
    ----------
    dose, limit : (n,) float64
        Shares of live crown, 0 to 1; NaN stays NaN.

    Returns
    -------
    (n,) float64
    """
    nearest = np.maximum(np.rint(100 * dose), np.sign(dose))
    return np.minimum(nearest, limit_percent(limit))
