from datetime import date

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.fieldwork.check import CONTENT, WORDS, check_returns

TODAY = date(2026, 12, 31)
NUMBERS = ["minutes", "dose", "planned_minutes", "planned_dose", "dose_limit"]


def returns(*rows: dict) -> pd.DataFrame:
    table = pd.DataFrame([{"row": n, **row} for n, row in enumerate(rows, start=1)])
    return table.astype({"visited_on": "datetime64[ns]"} | dict.fromkeys(NUMBERS, float))


def visit(tree: str = "a", day: str = "2026-06-01", **told) -> dict:
    plain = {"tree_id": tree, "visited_on": day, "crew": "One", "outcome": "done"}
    words = dict.fromkeys([*WORDS, "unreadable"], "")
    return plain | dict.fromkeys(NUMBERS, float("nan")) | words | {"minutes": 9.0} | told


def recorded(*rows: dict, change: int = 3) -> pd.DataFrame:
    return returns(*rows).drop(columns="row").assign(change=change)


NOTHING = recorded(visit()).iloc[:0]


def check(table: pd.DataFrame, known: pd.DataFrame = NOTHING):
    return check_returns(table, known, set("abc"), today=TODAY)


@pytest.mark.parametrize("name", CONTENT)
def test_words_that_are_not_on_record_are_not_passed_over(name):
    known = recorded(visit())
    checked = check(returns(visit(**{name: "dead wood"})), known)
    (refused,) = checked.refused.to_dict("records")
    assert refused["fault"].endswith(f": {name}")
    assert "back to change 3" in refused["remedy"]
    assert checked.known == 0


def test_words_that_are_on_record_are_known():
    known = recorded(visit(note="b; a", who="AB"))
    for told in ({"note": "a"}, {"note": "b"}, {"note": ""}, {"who": "CD"}):
        checked = check(returns(visit(**told)), known)
        assert (checked.known, len(checked.refused)) == (1, 0)


def test_a_visit_of_the_inventory_is_corrected_there():
    checked = check(returns(visit(dose=0.1)), recorded(visit(), change=0))
    assert "inventory" in checked.refused["remedy"].item()


def test_a_visit_stays_known_when_its_tree_is_gone():
    checked = check(
        returns(visit("felled"), visit("felled", "2026-06-09")), recorded(visit("felled"))
    )
    assert (checked.known, checked.refused["row"].tolist()) == (1, [2])


@given(order=st.permutations(["one", "two", "", "one"]))
def test_what_two_rows_say_of_one_visit_is_kept_in_any_order(order):
    checked = check(returns(*(visit(note=note) for note in order)))
    assert checked.new["note"].tolist() == ["one; two"]
    assert checked.known == 3


def test_a_row_with_several_faults_is_refused_once():
    bad = visit("zz", None, dose=1.5, unreadable="no date")
    (refused,) = check(returns(bad)).refused.to_dict("records")
    for part in ("no usable tree", "not within 0 to 100 %", "no date"):
        assert part in refused["fault"]
    assert "2027-04-03" in refused["remedy"]


@pytest.mark.parametrize(
    ("told", "fault"),
    [
        ({"crew": "Two"}, "done on 2026-06-01 by One"),
        ({"day": "2026-06-02"}, "done on 2026-06-01 by One"),
        ({"tree": "b", "day": "2016-06-01"}, "over a year ago"),
        ({"tree": "b", "dose": 0.0015}, "under 1 %"),
        ({"tree": "b", "dose": 0.3, "dose_limit": 0.25}, "more than the limit"),
    ],
)
def test_what_looks_like_a_slip_is_recorded_with_a_warning(told, fault):
    checked = check(returns(visit(**told)), recorded(visit()))
    assert len(checked.new) == 1
    assert fault in checked.warnings["fault"].item()


@pytest.mark.parametrize(
    "told",
    [
        {"day": "2026-09-01"},
        {"outcome": "skipped", "crew": "Two"},
        {"outcome": "partly done", "day": "2026-05-31"},
        {"tree": "b"},
    ],
)
def test_another_visit_at_its_time_is_nothing_to_warn_of(told):
    assert not len(check(returns(visit(**told)), recorded(visit())).warnings)


@pytest.mark.parametrize(
    ("day", "warned"), [("2026-05-31", True), ("2026-05-02", True), ("2026-05-01", False)]
)
@pytest.mark.parametrize("on_record", [False, True])
def test_doses_that_pass_the_limit_together_are_warned_of(day, warned, on_record):
    """Each within the limit of 25 %, and 40 % together."""
    half = {"outcome": "partly done", "dose": 0.2, "dose_limit": 0.25}
    earlier, later = visit(day=day, **half), visit(**half)
    if on_record:  # twice, as the books and the inventory read with them tell of it
        checked = check(returns(later), recorded(earlier, earlier))
    else:
        checked = check(returns(earlier, later))
    told = checked.warnings[checked.warnings["fault"].str.contains("with the visits of 30 days")]
    assert len(told) == warned
    assert (told["visited_on"] == pd.Timestamp("2026-06-01")).all()


@pytest.mark.parametrize(("planned", "warned"), [(float("nan"), 1), (0.06, 1), (0.01, 0)])
def test_a_dose_under_one_per_cent_is_a_slip_unless_it_was_planned(planned, warned):
    checked = check(returns(visit(dose=0.006, planned_dose=planned)))
    assert checked.warnings["fault"].str.contains("under 1 %").sum() == warned
