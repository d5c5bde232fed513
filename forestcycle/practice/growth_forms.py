"""The equation forms of the Urban Tree Database, evaluated on arrays.

Source: McPherson, van Doorn, Peper 2016, *Urban Tree Database and Allometric
Equations*, PSW-GTR-253, table of growth equation forms (data RDS-2016-0005).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

POLYNOMIALS = {"lin": 1, "quad": 2, "cub": 3, "quart": 4}
"""Form and its degree; the coefficients a to e rise with the power of x."""

CORRECTION = {"1": 0.0, "2": 0.5, "3": 1.0, "4": 2.0}
"""Last sign of a logarithmic form and the power of x that weighs its correction."""

FORMS = (*POLYNOMIALS, *(f"{stem}{end}" for stem in ("loglogw", "expow") for end in CORRECTION))
COEFFICIENTS = ("a", "b", "c", "d", "e")
HALF_A_PRINTED_UNIT = 0.5e-5
"""The source prints five decimals, so a coefficient is known to half of the last."""


def evaluate(form: str, coefficients: ArrayLike, x: ArrayLike) -> Floats:
    """Evaluate a growth equation.

    ``lin quad cub quart`` are polynomials. With ``c`` the mean squared error::

        loglogw1..4   exp(a + b ln(ln(x + 1)) + k c / 2)
        expow1..4     exp(a + b x + k c / 2)             k = 1, sqrt(x), x, x^2

    The table's text for ``loglogw1`` is missing from the public file. Here
    ``c / 2`` stands outside the inner logarithm, as in its sister forms and as
    the correction for back-transforming a mean of logarithms asks. The limits
    that the source prints for these equations agree better with ``c / 2``
    inside; the two readings differ by about one percent at the upper limit.

    Parameters
    ----------
    form : str
        One of ``FORMS``.
    coefficients : array_like, shape (5,) or (5, n)
        a to e; unused ones are ignored and may be NaN.
    x : array_like, shape (n,)
        Age in years or diameter in cm, not negative.

    Returns
    -------
    ndarray of float64, shape (n,)
        In the unit of the equation: cm, or m. Limits are not applied here.

    Raises
    ------
    ValueError
        If the form is not known.
    """
    values = np.asarray(x, dtype=np.float64)
    a, b, c, d, e = np.asarray(coefficients, dtype=np.float64)
    if form in POLYNOMIALS:
        terms = (a, b, c, d, e)[: POLYNOMIALS[form] + 1]
        total = np.zeros_like(values)
        for coefficient in reversed(terms):
            total = total * values + coefficient
        return total
    if form not in FORMS:
        raise ValueError(f"unknown form {form!r}; known forms: {', '.join(FORMS)}")
    correction = values ** CORRECTION[form[-1]] * c / 2
    if form.startswith("expow"):
        return _exp(a + b * values + correction)
    with np.errstate(divide="ignore"):  # ln(ln(0 + 1)) is -inf, and the size there is 0
        return _exp(a + b * np.log(np.log1p(values)) + correction)


def _exp(exponent: Floats) -> Floats:
    return np.asarray(np.exp(exponent), dtype=np.float64)


def restore_cut_digits(
    form: str, coefficients: ArrayLike, *, most_x: float, most_value: float
) -> Floats:
    """Give back to a cubic the digits that printing cut off.

    Five decimals leave the cubic term of an equation with one or two
    significant digits, and at a diameter of 150 cm half a unit of the last is
    17 m. But the source also prints the equation's value at its upper limit,
    to 0.01. Solving for ``d`` there restores the digits. That is done only
    where it moves ``d`` by no more than rounding can have; otherwise the
    limit is something else than the equation's value, and ``d`` stays.

    Parameters
    ----------
    form : str
        Forms other than ``cub`` come back unchanged.
    coefficients : array_like, shape (5,)
    most_x, most_value : float
        Upper limit of the independent variable, and the value printed for it.

    Returns
    -------
    ndarray of float64, shape (5,)
    """
    restored = np.array(coefficients, dtype=np.float64)
    if form != "cub":
        return restored
    missing = (most_value - float(evaluate(form, restored, most_x))) / most_x**3
    if abs(missing) <= HALF_A_PRINTED_UNIT:
        restored[3] += missing
    return restored
