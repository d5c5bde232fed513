"""What crews read in percent is whole, and never says more than the limit."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from forestcycle.practice.percent import dose_percent, limit_percent

shares = arrays(np.float64, 20, elements=st.floats(0, 1))


def test_figures():
    dose = np.array([0.0, 0.004, 0.096, 0.124, 0.125, np.nan])
    limit = np.array([0.0, 0.25, 0.2, 0.125, 0.29, 0.25])
    np.testing.assert_array_equal(dose_percent(dose, limit), [0, 1, 10, 12, 12, np.nan])
    np.testing.assert_array_equal(limit_percent(limit), [0, 25, 20, 12, 29, 25])


@given(shares, shares)
def test_no_dose_reads_as_more_than_its_limit(dose, limit):
    percent = dose_percent(dose, limit)
    assert (percent <= 100 * limit + 1e-6).all()
    assert (percent == np.rint(percent)).all()
    free = dose <= limit - 0.01
    assert (np.abs(percent - 100 * dose)[free] <= 1).all()
