"""Means by kind, size and fault, where some combinations have few trees or none."""

import numpy as np

from forestcycle.outlook.states import FloatArray, IntArray

BORROWED_WEIGHT = 20.0
"""A mean rests on its own trees and, as if these were so many more, on the wider mean's."""


def shrunk_means(
    total: FloatArray, weight: FloatArray, key: tuple[IntArray, ...], shape: tuple[int, ...]
) -> FloatArray:
    """Return weighted means per combination of keys, drawn towards wider means.

    A combination leans on the mean without its first key, that one on the
    mean without the first two, and so on up to the mean of all: what few
    trees say about themselves counts less.

    Parameters
    ----------
    total, weight : (n,) float64
        The mean is the sum of ``total`` over that of ``weight``.
    key : tuple of (n,) int64
        From the one to give up first to the one to keep longest.
    shape : tuple of int
        Number of values of each key.

    Returns
    -------
    ndarray of float64
        Of ``shape``.
    """
    whole = weight.sum()
    mean = np.full((1,) * len(shape), total.sum() / whole if whole > 0 else 0.0)
    for kept in range(1, len(shape) + 1):
        keys, lengths = key[-kept:], shape[-kept:]
        place = np.ravel_multi_index(keys, lengths)
        length = int(np.prod(lengths))
        sums = np.bincount(place, weights=total, minlength=length).reshape(lengths)
        weights = np.bincount(place, weights=weight, minlength=length).reshape(lengths)
        wider = np.broadcast_to(mean[(0,) * (len(shape) - kept)], lengths)
        narrow = (sums + BORROWED_WEIGHT * wider) / (weights + BORROWED_WEIGHT)
        mean = narrow.reshape((1,) * (len(shape) - kept) + lengths)
    return np.asarray(mean, dtype=np.float64)
