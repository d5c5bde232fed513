"""Dose limits, usual doses and estimates of a dose."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import SettingsError
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.dose import (
    dose_from_branches,
    dose_from_brush,
    dose_limits,
    usual_doses,
)
from forestcycle.practice.state import STATES

YOUNG, SEMI_MATURE, MATURE, OLD = range(len(AGE_CLASSES))
NEWLY_PLANTED, SOUND, FAIR, STRESSED = range(len(STATES))
TABLES = ("cautious", "UF/IFAS", "CSU", "CSU 7.825", "ANSI A300-1995")


def limit(table, age_class, state=SOUND, years=np.nan):
    found = dose_limits(table, np.array([age_class]), np.array([state]), np.array([years]))
    return float(found.limit[0])


def test_uf_plan_0_2_and_4_years_after_planting():
    # UF/IFAS EP276 (Gilman).
    assert [limit("UF/IFAS", YOUNG, years=years) for years in (0, 2, 4)] == [0.25, 0.40, 0.35]


def test_csu_healthy_young_and_medium():
    # CSU Extension GardenNotes 616.
    assert limit("CSU", YOUNG) == 0.25
    assert limit("CSU", SEMI_MATURE) == 0.20


@pytest.mark.parametrize("age_class", range(4))
@pytest.mark.parametrize("table", ["CSU", "cautious"])
def test_no_live_wood_from_stressed_trees(table, age_class):
    # CSU Extension GardenNotes 616.
    assert limit(table, age_class, STRESSED) == 0


def test_the_older_csu_sheet_and_ansi_1995():
    # CSU 7.825 (older); ANSI A300-1995 5.3.1 as quoted by a firm.
    found = [limit("CSU 7.825", age) for age in range(4)]
    assert found == [0.33, 0.25, 0.20, 0.0]
    assert limit("ANSI A300-1995", MATURE) == 0.25


def test_where_a_table_is_silent_the_cautious_one_stands_in_and_says_so():
    # UF/IFAS EP276 was read up to year 4 only.
    found = dose_limits("UF/IFAS", np.array([YOUNG]), np.array([SOUND]), np.array([9.0]))
    assert found.limit[0] == limit("cautious", YOUNG)
    assert found.source(0).startswith("cautious: ")


@pytest.mark.parametrize("state", [SOUND, FAIR, NEWLY_PLANTED])
@pytest.mark.parametrize("age_class", range(4))
@pytest.mark.parametrize("table", ["UF/IFAS", "CSU", "ANSI A300-1995"])
def test_the_cautious_table_is_never_the_bolder(table, age_class, state):
    assert limit("cautious", age_class, state) <= limit(table, age_class, state, 1.0)


@pytest.mark.parametrize("table", TABLES)
def test_a_quarter_is_the_most_but_for_young_trees_of_two_sources(table):
    # Common practice: a quarter of live crown is the most a visit takes.
    for age_class in (SEMI_MATURE, MATURE, OLD):
        assert limit(table, age_class) <= 0.25


def test_an_unknown_table_is_refused_with_the_known_ones():
    with pytest.raises(SettingsError, match=r"no dose limits named 'bold'.*cautious"):
        limit("bold", YOUNG)


def test_a_table_must_cover_all_ages(tmp_path):
    (tmp_path / "dose_limits.csv").write_text(
        "table,age_class,state,from_year,to_year,limit,source\ncautious,young,any,,,0.2,us\n"
    )
    with pytest.raises(SettingsError, match="no dose limit for old trees"):
        dose_limits(
            "cautious", np.array([OLD]), np.array([SOUND]), np.array([np.nan]), folder=tmp_path
        )


def test_a_good_visit_to_a_young_tree_takes_about_15_percent():
    # Common practice: 15 % where a quarter is the ceiling.
    assert usual_doses(np.array([YOUNG]), np.array([SOUND]), np.array([0.25])) == [0.15]


@pytest.mark.parametrize("state", range(4))
@pytest.mark.parametrize("age_class", range(4))
@pytest.mark.parametrize("table", TABLES)
def test_the_usual_visit_stops_at_or_short_of_the_limit(table, age_class, state):
    ceiling = np.array([limit(table, age_class, state)])
    usual = usual_doses(np.array([age_class]), np.array([state]), ceiling)
    assert usual <= ceiling
    if ceiling >= 0.1:
        assert usual < ceiling


def test_dose_from_branch_diameters():
    # Grabosky, Gilman and Harchick 2007: leaf mass linear in basal area; by hand:
    # (3^2 + 4^2) / (3^2 + 4^2 + 5^2 + 5^2) = 25 / 75.
    assert dose_from_branches(np.array([3, 4]), np.array([3, 4, 5, 5])) == pytest.approx(1 / 3)
    assert dose_from_branches(np.array([]), np.array([2.0])) == 0


@given(st.lists(st.floats(0.5, 30), min_size=1, max_size=20), st.integers(0, 20))
def test_dose_from_branches_lies_between_none_and_all(diameters, taken):
    dose = dose_from_branches(np.array(diameters[:taken]), np.array(diameters))
    assert 0 <= dose <= 1
    scaled = dose_from_branches(np.array(diameters[:taken]) * 2.54, np.array(diameters) * 2.54)
    assert scaled == pytest.approx(dose)


@pytest.mark.parametrize(("removed", "every"), [([3], []), ([-1], [3]), ([5], [3]), ([1], [0])])
def test_impossible_branches_are_refused(removed, every):
    with pytest.raises(ValueError, match="branch"):
        dose_from_branches(np.array(removed, float), np.array(every, float))


def test_dose_from_brush():
    # Half an ellipsoid 4 m wide and 3 m high holds pi/6 * 16 * 3 = 25.13 m3 (by hand).
    dose = dose_from_brush(np.array([0.5]), np.array([4.0]), np.array([3.0]), packing=8.0)
    assert dose == pytest.approx([4.0 / 25.132741])
    assert dose_from_brush(np.array([99.0]), np.array([4.0]), np.array([3.0]), packing=8.0) == [1.0]
