"""Age classes."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import SettingsError
from forestcycle.practice.age_class import age_classes

ON = date(2027, 3, 1)


def test_diameter_over_mature_diameter_decides():
    found = age_classes([5, 18.7, 18.75, 37.5, 74.9, 75, 200], [75] * 7)
    assert list(found.age_class) == [
        "young", "young", "semi-mature", "mature", "mature", "old", "old",
    ]  # fmt: skip
    assert found.relative_diameter[0] == pytest.approx(1 / 15)
    assert found.age_class.ordered


def test_a_planting_date_makes_young_unless_size_speaks_against_it():
    planted = np.array(["2020-03-01", "2026-03-01", "2026-03-01", "NaT", "2028-01-01"], "M8[ns]")
    found = age_classes([25, 5, 60, 25, 25], [75] * 5, planted_on=planted, on=ON)
    assert list(found.age_class) == ["young", "young", "mature", "semi-mature", "semi-mature"]
    assert list(found.newly_planted) == [False, True, False, False, False]
    assert list(found.by_date) == [True, False, False, False, False]
    assert np.isnan(found.years_since_planting[3:]).all()
    assert found.years_since_planting[0] == pytest.approx(7.0, abs=0.01)


@given(st.floats(0, 300), st.floats(0, 300), st.floats(5, 200))
def test_a_thicker_tree_is_never_younger(one, other, mature):
    codes = age_classes(sorted([one, other]), [mature, mature]).age_class.codes
    assert codes[0] <= codes[1]


def test_a_table_out_of_order_is_a_fault(tmp_path):
    text = "age_class,from_relative_diameter,source\nyoung,0,x\nmature,0.5,x\nold,1,x\n"
    (tmp_path / "age_classes.csv").write_text(text)
    with pytest.raises(SettingsError, match="in this order"):
        age_classes([5], [75], folder=tmp_path)
