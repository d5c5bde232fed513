"""Minutes, brush and skill of visits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import SettingsError
from forestcycle.practice.labour import LABOUR_COLUMNS, load_labour, skill_needed, visit_labour
from forestcycle.practice.tables import load_table

LABOUR = load_labour()
DBH = st.floats(0, 250)
DOSE = st.floats(0, 1)


def visits(dbh_cm, dose, *, items=1, height_m=3.0, near=False, people=1):
    skill = skill_needed(np.full(np.shape(dbh_cm), height_m), near, labour=LABOUR)
    return visit_labour(dbh_cm, dose, items, skill, labour=LABOUR, people_per_crew=people)


def test_c6_minutes_from_four_to_sixteen_inches():
    """Churack et al. 1994: 6 minutes of pruning and 1.5 of stacking more per inch."""
    done = visits(np.array([4, 16]) * 2.54, LABOUR.reference_dose)
    assert np.diff(done.pruning_minutes) == pytest.approx([72])
    assert np.diff(done.stacking_minutes) == pytest.approx([18])
    assert np.diff(done.minutes) == pytest.approx([90])


def test_brush_is_three_pounds_per_minute_of_pruning():
    """Churack et al. 1994."""
    done = visits(np.array([25.4]), LABOUR.reference_dose)
    assert done.brush_kg == pytest.approx(done.pruning_minutes * 3 * 0.45359237)


@given(st.floats(0, 10.16), st.floats(0.001, 0.25))
def test_formative_pruning_of_a_young_tree_takes_one_to_four_minutes(dbh_cm, dose):
    """Ryder and Moore 2013."""
    minutes = visits(np.array([dbh_cm]), dose).pruning_minutes[0]
    assert 1 <= minutes <= 4 + 1e-9


def test_thicker_trees_than_published_are_marked():
    done = visits(np.array([16 * 2.54, 16.1 * 2.54]), 0.15)
    assert list(done.beyond_published) == [False, True]


def test_person_minutes_are_shared_by_the_crew():
    one, two = (visits(np.array([40.0]), 0.2, people=people) for people in (1, 2))
    shared = one.pruning_minutes + one.stacking_minutes
    assert one.minutes - two.minutes == pytest.approx(shared / 2)
    assert one.setup_minutes == two.setup_minutes


def test_an_inspection_takes_set_up_only():
    done = visits(np.array([40.0]), 0.0)
    assert done.minutes == done.setup_minutes
    assert done.brush_kg == 0


@given(DBH, DBH, DOSE, DOSE, st.integers(1, 12))
def test_more_work_never_takes_less_time(dbh, other_dbh, dose, other_dose, items):
    thin, thick = sorted([dbh, other_dbh])
    small, large = sorted([dose, other_dose])
    done = visits(np.array([thin, thick, thick, thick]), [small, small, large, large])
    assert (np.diff(done.minutes) >= -1e-9).all()
    assert (np.diff(done.brush_kg) >= -1e-9).all()
    more_items = visits(np.array([thick]), large, items=items)
    assert more_items.minutes[0] >= done.minutes[-1] - 1e-9


def test_skill_follows_height_access_and_conductors():
    height = [4.0, 12.0, 12.0, 25.0, 4.0]
    near = [False, False, False, False, True]
    truck = [True, True, False, True, True]
    skill = skill_needed(height, near, truck_access=truck, labour=LABOUR)
    assert list(skill) == ["ground", "lift", "climb", "climb", "line_clearance"]


def test_faults_of_the_citys_table_come_all_at_once(tmp_path):
    table = load_table("labour", LABOUR_COLUMNS)
    table = table.iloc[[0, 0, *range(2, len(table))]]
    table.loc[table.index[-1], "item"] = "coffee_minutes"
    table.to_csv(tmp_path / "labour.csv", index=False)
    with pytest.raises(SettingsError) as caught:
        load_labour(folder=tmp_path)
    assert len(caught.value.faults) == 4


def test_a_reference_dose_of_nought_is_a_fault(tmp_path):
    table = load_table("labour", LABOUR_COLUMNS)
    table.loc[table["item"] == "reference_dose", "value"] = 0.0
    table.to_csv(tmp_path / "labour.csv", index=False)
    with pytest.raises(SettingsError, match="reference_dose > 0"):
        load_labour(folder=tmp_path)
