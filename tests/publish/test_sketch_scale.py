"""The scale bar of the paper map is true."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.sketch_scale import scale_bar


@given(st.floats(5, 50_000))
def test_scale_bar_is_round_and_not_too_long(most):
    metres, text = scale_bar(most, "metric")
    assert most / 2.6 <= metres <= most * (1 + 1e-9)
    value, unit = text.split()
    assert float(value) * {"m": 1, "km": 1000}[unit] == pytest.approx(metres)


@given(st.floats(5, 50_000))
def test_us_scale_bar_says_what_it_measures(most):
    metres, text = scale_bar(most, "us")
    value, unit = text.split()
    # NIST Special Publication 811: 1 ft = 0.3048 m, 1 mi = 1609.344 m.
    assert float(value) * {"ft": 0.3048, "mi": 1609.344}[unit] == pytest.approx(metres)
