"""What a tree is worth by the trunk formula.

Source: McPherson 2007, "Benefit-based tree valuation", *Arboriculture & Urban
Forestry* 33(1), table 2, which prints whole dollars, cut and not rounded. Its
basic costs (installed cost, and 11.94 dollars per square centimetre) are of
Davis, California; a city puts in its own.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

BINARY_ROUNDING = 1e-9


def trunk_formula_value(
    basic_cost: ArrayLike, species: ArrayLike, location: ArrayLike, condition: ArrayLike
) -> NDArray[np.int64]:
    """Return appraised values in whole units of money, cut like the source's.

    ``appraised = basic cost x species x location x condition``

    Parameters
    ----------
    basic_cost : array_like of float, shape (n,)
        Cost of replacing the trunk area.
    species, location, condition : array_like of float, shape (n,)
        Ratings from 0 to 1.

    Returns
    -------
    ndarray of int64, shape (n,)
    """
    product = (
        np.asarray(basic_cost, dtype=np.float64)
        * np.asarray(species, dtype=np.float64)
        * np.asarray(location, dtype=np.float64)
        * np.asarray(condition, dtype=np.float64)
    )
    return np.asarray(np.floor(product + BINARY_ROUNDING), dtype=np.int64)
