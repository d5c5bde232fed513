"""Columns that hold one of a few words."""

from collections.abc import Sequence
from typing import cast

import numpy as np
import pandas as pd
from numpy.typing import NDArray


def from_codes(
    codes: NDArray[np.signedinteger], words: Sequence[str], *, ordered: bool = False
) -> pd.Categorical:
    """Make a categorical column from the positions of its words.

    Parameters
    ----------
    codes : ndarray of int, shape (n,)
        Position in ``words``; -1 where there is none.
    words : sequence of str
    ordered : bool
        Whether the words stand in rising order.

    Returns
    -------
    Categorical, shape (n,)
    """
    kind: pd.CategoricalDtype = pd.CategoricalDtype(list(words), ordered=ordered)
    return cast("pd.Categorical", pd.Categorical.from_codes(codes, dtype=kind))
