"""Faults after some years of waiting."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.defects import Findings
from forestcycle.practice.waiting import after, years_left
from forestcycle.practice.wounds import load_wounds

CATALOGUE, WOUNDS = load_catalogue(), load_wounds()


def finding(defect, severity, branch_cm):
    return Findings(
        tree=np.array([0]),
        defect=np.array([CATALOGUE.code(defect)]),
        severity=np.array([severity]),
        branch_cm=np.array([branch_cm]),
        branch_m=np.array([np.nan]),
        position=np.array([""], dtype=object),
        observed_on=np.array(["2026-06-01"], "M8[ns]"),
        prior=np.array([False]),
    )


def left(found, dbh, growth, mature):
    return years_left(
        found,
        CATALOGUE,
        WOUNDS,
        dbh_cm=np.array([dbh]),
        growth_cm_per_year=np.array([growth]),
        mature_dbh_cm=np.array([mature]),
    )[0]


def later(years, found, dbh, later_dbh, mature=100.0):
    return after(
        years,
        found,
        CATALOGUE,
        WOUNDS,
        dbh_cm=np.array([dbh]),
        later_dbh_cm=np.array([later_dbh]),
        mature_dbh_cm=np.array([mature]),
    )


def test_years_left_by_hand():
    # A branch of 5 cm on a trunk of 10 cm reaches 10 cm when the trunk has 20: 8 years at 1.25.
    found = finding("oversized branch", 0.5, 5.0)
    assert left(found, 10.0, 1.25, 100.0) == pytest.approx(8)
    # Corrected up to half of the mature diameter: 10 to 15 of 30 cm takes 4 years at 1.25.
    assert left(found, 10.0, 1.25, 30.0) == pytest.approx(4)
    assert left(found, 40.0, 1.25, 30.0) == 0


def test_a_branch_keeps_pace_with_its_trunk():
    found = later(5, finding("oversized branch", 0.5, 5.0), 10.0, 18.0)
    assert found.branch_cm == pytest.approx([9.0])
    assert found.closes[0]
    assert not later(10, finding("oversized branch", 0.5, 5.0), 10.0, 26.0).closes[0]


@given(
    st.sampled_from(CATALOGUE.names),
    st.floats(0.01, 1),
    st.floats(0, 30),
    st.floats(3, 60),
    st.lists(st.floats(0, 20), min_size=2, max_size=2),
)
def test_waiting_never_makes_anything_better(defect, severity, branch, dbh, years):
    # Common practice: crowded limbs left 5, 10 or 15 years crowd each other more.
    found = finding(defect, severity, branch)
    sooner, longer = (later(span, found, dbh, dbh + span) for span in sorted(years))
    assert sooner.branch_cm <= longer.branch_cm
    assert sooner.severity <= longer.severity <= 1
    assert 1 <= sooner.dose_factor <= longer.dose_factor
    assert sooner.closes >= longer.closes
    assert sooner.correctable >= longer.correctable
