"""Recall: a model of ours, so its shape is tested, and the facts it stays within."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.practice.assessment import AGE_CLASSES, RECALL_STATES
from forestcycle.practice.recall import (
    at_once,
    intervals,
    load_recall,
    load_urgent_faults,
    recall,
    still_resting,
)
from forestcycle.practice.state import STATES

TABLES = load_recall()
YOUNG, SEMI_MATURE, MATURE, OLD = range(4)
SOUND, STRESSED = STATES.index("sound"), STATES.index("stressed")
NEVER = np.datetime64("NaT", "ns")
ON = date(2027, 1, 1)


def years(age_class, dose, remaining, *, state=SOUND, growth=1.0):
    found = intervals(
        TABLES,
        np.array([age_class]),
        np.array([state]),
        np.array([growth]),
        np.array([dose]),
        np.array([0.15]),
        np.array([remaining]),
    )
    return tuple(float(value[0]) for value in found)


def one(age_class=YOUNG, *, planted=NEVER, last=NEVER, dose=0.15, remaining=0.0, usual=0.15, on=ON):
    return recall(
        TABLES,
        on=on,
        age_class=np.array([age_class]),
        state=np.array([SOUND]),
        growth_cm_per_year=np.array([1.2]),
        planted_on=np.array([planted], dtype="datetime64[ns]"),
        last_visit=np.array([last], dtype="datetime64[ns]"),
        last_dose=np.array([dose if not np.isnat(last) else 0.0]),
        usual_dose=np.array([usual]),
        remaining_dose=np.array([remaining]),
    )


doses = st.floats(0, 1)
kinds = st.tuples(st.integers(0, 3), st.integers(0, 3), st.floats(0, 5))


@given(kinds, doses, doses, doses)
def test_a_larger_dose_never_comes_back_sooner(kind, remaining, one_dose, other_dose):
    age_class, state, growth = kind
    small, large = sorted((one_dose, other_dose))
    sooner = years(age_class, small, remaining, state=state, growth=growth)
    later = years(age_class, large, remaining, state=state, growth=growth)
    assert all(a <= b + 1e-12 for a, b in zip(sooner, later, strict=True))


@given(kinds, doses, doses, doses)
def test_more_remaining_work_never_comes_back_later(kind, dose, one_rest, other_rest):
    age_class, state, growth = kind
    little, much = sorted((one_rest, other_rest))
    later = years(age_class, dose, little, state=state, growth=growth)
    sooner = years(age_class, dose, much, state=state, growth=growth)
    assert all(a <= b + 1e-12 for a, b in zip(sooner, later, strict=True))


@given(kinds, doses, doses, st.floats(0, 5))
def test_faster_growth_never_comes_back_later(kind, dose, remaining, other_growth):
    age_class, state, growth = kind
    slow, fast = sorted((growth, other_growth))
    later = years(age_class, dose, remaining, state=state, growth=slow)
    sooner = years(age_class, dose, remaining, state=state, growth=fast)
    assert all(a <= b + 1e-12 for a, b in zip(sooner, later, strict=True))


@given(kinds, doses, doses)
def test_the_span_runs_forward(kind, dose, remaining):
    age_class, state, growth = kind
    least, due, overdue = years(age_class, dose, remaining, state=state, growth=growth)
    assert 0 < least <= due < overdue


@given(kinds, st.floats(0.01, 1), doses)
def test_the_same_holds_for_dates(kind, dose, remaining):
    age_class, _, _ = kind
    last = np.datetime64("2025-04-01", "ns")
    planted = np.datetime64("2020-04-01", "ns")
    small = one(age_class, planted=planted, last=last, dose=dose / 2, remaining=remaining)
    large = one(age_class, planted=planted, last=last, dose=dose, remaining=remaining)
    for name in ("not_before", "due", "overdue_after"):
        assert getattr(small, name)[0] <= getattr(large, name)[0]


def test_a_pause_beyond_all_dates_ends_within_them():
    """As a city's own tables can make it, where the usual dose is next to nothing."""
    found = one(YOUNG, last=np.datetime64("2026-04-01", "ns"), dose=1.0, usual=1e-6)
    assert np.datetime64("2100-01-01") < found.not_before[0] <= found.due[0]
    assert found.due[0] < found.overdue_after[0] < np.datetime64("2262-01-01")


def test_the_rest_of_a_young_trees_work_follows_next_year_or_the_year_after():
    # Common practice.
    least, due, _ = years(YOUNG, 0.15, 0.15, growth=1.2)
    assert least == 1
    assert 1 <= due <= 2


def test_a_young_tree_with_nothing_left_comes_back_within_2_to_4_years():
    # Ryder and Moore 2013: young-tree cycle of 2 to 4 years.
    for growth in (0.2, 1.2, 3.0):
        assert 2 <= years(YOUNG, 0.15, 0.0, growth=growth)[1] <= 4


def test_a_mature_tree_with_nothing_left_follows_the_8_year_cycle():
    # McPherson 2007, Table 3 (Davis, California): 8 years at 15 to 60 cm.
    assert years(MATURE, 0.1, 0.0, growth=0.7)[1] == pytest.approx(8)


def test_planted_trees_follow_the_training_sequence():
    # UF/IFAS EP276: first visits 2 and 4 years after planting.
    planted = np.datetime64("2026-01-01", "ns")
    first = one(planted=planted)
    assert first.due[0] == np.datetime64("2028-01-02")
    assert RECALL_STATES[first.state[0]] == "not yet due"
    visited = one(planted=planted, last=np.datetime64("2028-01-02", "ns"), on=date(2028, 6, 1))
    assert visited.due[0] <= np.datetime64("2030-01-03")


def test_a_tree_never_visited_is_due_at_once_and_not_overdue_for_ever():
    for age_class in range(4):
        found = one(age_class)
        assert found.due[0] == found.not_before[0] == np.datetime64(ON)
        assert RECALL_STATES[found.state[0]] == "due"
    planted_long_ago = one(planted=np.datetime64("2015-01-01", "ns"))
    assert RECALL_STATES[planted_long_ago.state[0]] in ("due", "overdue")
    assert planted_long_ago.due[0] >= np.datetime64("2025-12-31")


def test_states_on_the_days_of_the_span():
    last = np.datetime64("2020-01-01", "ns")
    found = one(MATURE, last=last)
    spans = {"due": found.due, "overdue_after": found.overdue_after}
    day = {name: days[0].astype("datetime64[D]").item() for name, days in spans.items()}
    before = date.fromordinal(day["due"].toordinal() - 1)
    after = date.fromordinal(day["overdue_after"].toordinal() + 1)
    states = [
        RECALL_STATES[one(MATURE, last=last, on=on).state[0]]
        for on in (before, day["due"], day["overdue_after"], after)
    ]
    assert states == ["not yet due", "due", "due", "overdue"]


def test_live_wood_of_a_stressed_tree_waits_longer():
    assert years(MATURE, 0.1, 0.1, state=STRESSED)[0] > years(MATURE, 0.1, 0.1)[0]


def test_the_tables_cover_every_class_and_state():
    assert len(TABLES.least_years) == len(AGE_CLASSES)
    assert len(TABLES.least_factor) == len(STATES)
    assert (np.diff(TABLES.training_years) > 0).all()
    # UF/IFAS EP276: training lasts 25 years.
    assert TABLES.training_years[-1] == 25


def test_a_hanging_limb_does_not_wait():
    # Common practice: what hangs over people is taken down, whatever the crown's rest.
    assert set(load_urgent_faults()) == {"broken or hanging limb"}
    usual = one(MATURE, last=np.datetime64("2026-06-01", "ns"))
    urgent = at_once(usual, np.array([0.25]), on=ON)
    assert usual.not_before[0] > np.datetime64(ON)
    assert urgent.not_before[0] == urgent.due[0] == np.datetime64(ON)
    assert urgent.overdue_after[0] == np.datetime64("2027-04-03")
    assert RECALL_STATES[urgent.state[0]] == "due"


@pytest.mark.parametrize("last", [NEVER, np.datetime64("2015-01-01", "ns")])
def test_an_urgent_fault_never_delays_a_tree(last):
    usual = one(MATURE, last=last)
    urgent = at_once(usual, np.array([0.25]), on=ON)
    for name in ("not_before", "due", "overdue_after"):
        assert getattr(urgent, name)[0] <= getattr(usual, name)[0]
    assert urgent.not_before[0] <= urgent.due[0] <= urgent.overdue_after[0]


def test_trees_without_an_urgent_fault_keep_their_recall():
    usual = one(MATURE, last=np.datetime64("2020-01-01", "ns"))
    same = at_once(usual, np.array([np.nan]), on=ON)
    for name in ("not_before", "due", "overdue_after", "state"):
        assert getattr(same, name)[0] == getattr(usual, name)[0]


def test_a_crown_rests_until_not_before():
    last = np.array(["2026-01-01", "NaT"], dtype="datetime64[ns]")
    least = np.array([2.0, 2.0])
    rested = one(MATURE, last=last[0], dose=0.1).not_before[0].astype("datetime64[D]").item()
    assert list(still_resting(last, least, on=ON)) == [True, False]
    assert list(still_resting(last, least, on=rested)) == [False, False]
