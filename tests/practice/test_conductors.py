"""Conductors: routing and words."""

import numpy as np
import pandas as pd
import pytest

from forestcycle.practice.conductors import (
    conductor_cautions,
    line_clearance_distance_m,
    needs_line_clearance,
)

WORDS = pd.Series(["none", "low_voltage", "high_voltage", "unknown"])


@pytest.mark.parametrize(("kilovolts", "metres"), [(0, 3.05), (50, 3.05), (60, 3.15), (100, 3.55)])
def test_c11_distance_of_line_clearance_work(kilovolts, metres):
    """29 CFR 1910.269, definition of line-clearance tree trimming."""
    assert line_clearance_distance_m(kilovolts) == pytest.approx(metres, abs=1e-9)


def test_part_steps_are_rounded_up():
    assert line_clearance_distance_m(50.5) == pytest.approx(3.15)


@pytest.mark.parametrize("kilovolts", [-1, float("nan"), float("inf")])
def test_a_voltage_must_be_one(kilovolts):
    with pytest.raises(ValueError, match="voltage"):
        line_clearance_distance_m(kilovolts)


def test_high_voltage_goes_to_qualified_crews():
    assert list(needs_line_clearance(WORDS)) == [False, False, True, False]
    assert list(needs_line_clearance(WORDS.astype("category"))) == [False, False, True, False]


def test_every_conductor_has_its_caution():
    cautions = conductor_cautions(WORDS)
    assert cautions[0] == ""
    assert all(cautions[1:])
    assert "qualified" in cautions[2]
    assert conductor_cautions(pd.Series(["something else", np.nan]))[0] == cautions[3]
