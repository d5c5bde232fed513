"""The wards by which the years ahead are told apart."""

import numpy as np
import pandas as pd

from forestcycle.outlook.states import IntArray

MOST_WARDS = 40
"""The smallest of more wards than these are one."""
OTHER_WARDS, NO_WARD = "other wards", "no ward"


def ward_names(table: pd.DataFrame) -> "pd.Series[str]":
    """Return the ward of each row, with a word for trees that lie in none.

    Parameters
    ----------
    table : DataFrame
        With ``ward``.

    Returns
    -------
    Series of str
    """
    return table["ward"].astype("str").replace("", NO_WARD)


def number_wards(table: pd.DataFrame) -> tuple[tuple[str, ...], IntArray]:
    """Return the wards by name, and the ward of each tree; the small ones of very many are one.

    Parameters
    ----------
    table : DataFrame
        One row per tree, with ``ward``.

    Returns
    -------
    names : tuple of str
    ward : (n,) int64
        Position in ``names``.
    """
    names = ward_names(table)
    counts = names.value_counts()
    if len(counts) > MOST_WARDS:
        names = names.where(names.isin(counts.index[: MOST_WARDS - 1]), OTHER_WARDS)
    found = pd.Categorical(names)
    return tuple(map(str, found.categories)), np.asarray(found.codes, dtype=np.int64)
