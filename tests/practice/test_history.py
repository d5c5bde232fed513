"""Past visits."""

from datetime import date

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.inventory.schema import VISIT_COLUMNS
from forestcycle.practice.history import read_history, years_between
from tests.practice.stands import records

IDS = pd.Index(["T0", "T1"])
ON = date(2027, 1, 1)


def read(*rows):
    return read_history(records(rows, VISIT_COLUMNS), IDS, on=ON)


def test_the_last_visit_counts_and_its_doses_add_up():
    history, aside = read(
        {"visited_on": "2026-03-01", "dose": 0.1},
        {"visited_on": "2026-03-01", "dose": 0.05},
        {"visited_on": "2024-03-01", "dose": 0.2},
    )
    assert aside.empty
    assert history.last_visit[0] == np.datetime64("2026-03-01")
    assert np.isnat(history.last_visit[1])
    assert history.last_dose[0] == 0.1 + 0.05
    assert np.isnan(history.last_dose[1])


def test_a_visit_written_down_fifty_times_took_no_more_than_the_crown():
    history, _ = read(*[{"visited_on": "2026-03-01", "dose": 0.1}] * 50)
    assert history.last_dose[0] == 1


def test_a_skipped_visit_is_none():
    history, _ = read({"visited_on": "2026-03-01", "dose": 0.1, "outcome": "Skipped"})
    assert np.isnat(history.last_visit[0])


def test_impossible_visits_are_set_aside_and_the_rest_stays():
    history, aside = read(
        {"visited_on": "2026-03-01", "dose": 1.2},
        {"visited_on": "2027-01-02", "dose": 0.1},
        {"visited_on": None, "dose": 0.1},
        {"visited_on": "2026-03-01", "dose": 0.1, "tree_id": "T9"},
    )
    assert aside[["row", "field", "used"]].values.tolist() == [
        [0, "dose", True],
        [1, "visited_on", False],
        [2, "visited_on", False],
        [3, "tree_id", False],
    ]
    assert history.last_visit[0] == np.datetime64("2026-03-01")
    assert np.isnan(history.last_dose[0])


def test_a_visit_begun_on_another_day_is_one_with_its_end():
    """Cut by 20 % on Thursday and by 20 % on Friday, a crown rests as from 40 %."""
    history, _ = read(
        {"visited_on": "2026-02-20", "dose": 0.2},
        {"visited_on": "2026-02-19", "dose": 0.2},
        {"visited_on": "2025-09-01", "dose": 0.1},
    )
    assert history.last_visit[0] == np.datetime64("2026-02-20")
    assert history.last_dose[0] == 0.4


def test_a_last_dose_that_nobody_told_is_not_taken_from_the_day_before():
    history, _ = read(
        {"visited_on": "2026-02-20", "dose": None}, {"visited_on": "2026-02-19", "dose": 0.02}
    )
    assert np.isnan(history.last_dose[0])


days = st.integers(0, 2000)


@given(st.lists(st.tuples(st.integers(0, 1), days, st.floats(0, 0.4)), max_size=20), days)
def test_the_dose_since_a_day_is_the_sum_of_later_visits(visits, since):
    start = np.datetime64("2020-01-01")
    rows = [
        {"tree_id": f"T{tree}", "visited_on": str(start + day), "dose": dose}
        for tree, day, dose in visits
    ]
    history, _ = read(*rows)
    asked = np.array([start + since] * 2, dtype="datetime64[ns]")
    found = history.dose_since(np.array([0, 1]), asked)
    by_hand = [
        sum(dose for tree, day, dose in visits if tree == t and day >= since) for t in (0, 1)
    ]
    assert np.allclose(found, by_hand)


def test_no_day_no_dose():
    history, _ = read({"visited_on": "2026-03-01", "dose": 0.1})
    assert history.dose_since(np.array([0]), np.array(["NaT"], "M8[ns]")) == [0]


def test_years_between():
    earlier = np.array(["2023-01-01", "NaT"], "M8[ns]")
    years = years_between(earlier, np.datetime64("2027-01-01", "ns"))
    assert years[0] == 4
    assert np.isnan(years[1])
