"""Closed seasons."""

from calendar import isleap
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import SettingsError
from forestcycle.practice.season import closed_windows, expand
from forestcycle.practice.species import match_species

YEAR = {"start": date(2027, 1, 1), "end": date(2027, 12, 31)}
STATES = ("Wisconsin", "Michigan", "Texas")
MONTH_DAYS = st.dates(date(2024, 1, 1), date(2024, 12, 31)).map(lambda day: f"{day:%m-%d}")
DAYS = st.dates(date(1995, 1, 1), date(2105, 12, 31))


def closures(species, *rules, **span):
    group, closed = closed_windows(match_species([species]), rules=rules, **(span or YEAR))
    return closed[group[0]]


def is_closed(closures, day):
    return any(first <= day <= last for first, last, _ in closures)


@pytest.mark.parametrize("state", STATES)
def test_c14_oaks_are_closed_on_the_first_of_may(state):
    """State advice on oak wilt: Wisconsin and Michigan DNR, Austin notice."""
    assert is_closed(closures("Quercus rubra", f"oak wilt {state}"), date(2027, 5, 1))


@pytest.mark.parametrize("state", STATES)
def test_c15_oaks_are_open_on_the_first_of_august(state):
    assert not is_closed(closures("Quercus rubra", f"oak wilt {state}"), date(2027, 8, 1))


@pytest.mark.parametrize(
    ("state", "first", "last"),
    [
        ("Wisconsin", date(2027, 4, 1), date(2027, 7, 31)),
        ("Michigan", date(2027, 4, 15), date(2027, 7, 15)),
        ("Texas", date(2027, 2, 1), date(2027, 6, 30)),
    ],
)
def test_both_ends_are_closed(state, first, last):
    spans = closures("Quercus", f"oak wilt {state}")
    assert spans == [(first, last, f"oak wilt {state}")]
    assert not is_closed(spans, first - timedelta(days=1))
    assert not is_closed(spans, last + timedelta(days=1))


def test_other_species_stay_open():
    assert closures("Tilia cordata", "oak wilt Wisconsin", "silver leaf", "sap bleeding") == []


def test_several_rules_unite():
    spans = closures("Quercus alba", "oak wilt Michigan", "spring flush", "heat")
    for day in (date(2027, 4, 15), date(2027, 5, 31), date(2027, 7, 10), date(2027, 8, 15)):
        assert is_closed(spans, day)
    assert not is_closed(spans, date(2027, 8, 16))


def test_for_elms_the_disease_rule_wins_over_bleeding():
    both = closures("Ulmus americana", "elm bark beetle flight", "sap bleeding")
    assert {rule for _, _, rule in both} == {"elm bark beetle flight"}
    assert is_closed(both, date(2027, 7, 15))
    assert not is_closed(both, date(2027, 3, 1))
    alone = closures("Ulmus americana", "sap bleeding")
    assert is_closed(alone, date(2027, 3, 1))


def test_a_window_over_new_year_closes_both_ends_of_the_year():
    spans = closures("Prunus serrulata", "silver leaf")
    assert [span[:2] for span in spans] == [
        (date(2027, 1, 1), date(2027, 4, 30)),
        (date(2027, 9, 1), date(2027, 12, 31)),
    ]


def test_groups_are_shared_by_trees_of_one_fate():
    names = ["Quercus rubra", "Tilia cordata", "Quercus alba", "unknown", "Acer rubrum"]
    group, closed = closed_windows(
        match_species(names), rules=("oak wilt Texas", "sap bleeding"), **YEAR
    )
    assert group[0] == group[2]
    assert group[1] == group[3]
    assert len(closed) == 3
    assert closed[group[1]] == []


def test_without_rules_nothing_is_closed():
    assert closures("Quercus rubra") == []


def test_an_unknown_rule_names_the_nearest():
    with pytest.raises(SettingsError, match="did you mean 'oak wilt Texas'"):
        closures("Quercus rubra", "oak wilt Texs")


def test_a_group_without_members_is_a_fault(tmp_path):
    text = (
        "rule,region,species_group,closed_from,closed_until,kind,yields_to_disease,mark,source\n"
        "own,here,beeches,04-01,05-01,disease,no,seen,city code\n"
    )
    (tmp_path / "seasons.csv").write_text(text)
    with pytest.raises(SettingsError, match="'beeches' has no members"):
        closures("Fagus", "own", folder=tmp_path, **YEAR)


def closed_by_definition(day, closed_from, closed_until):
    """A second opinion, day by day, on the string of month and day."""
    today = f"{day:%m-%d}"
    until = "02-28" if closed_until == "02-29" and not isleap(day.year) else closed_until
    if closed_from <= closed_until:
        return closed_from <= today <= until
    return today >= closed_from or today <= until


@given(MONTH_DAYS, MONTH_DAYS, DAYS, st.integers(0, 800))
def test_every_day_is_closed_exactly_when_the_window_says(closed_from, closed_until, start, days):
    end = start + timedelta(days=days)
    spans = expand(closed_from, closed_until, start, end)
    closed = {
        first + timedelta(days=k) for first, last in spans for k in range((last - first).days + 1)
    }
    every = (start + timedelta(days=k) for k in range(days + 1))
    assert closed == {day for day in every if closed_by_definition(day, closed_from, closed_until)}
    assert all(start <= first <= last <= end for first, last in spans)


def test_the_leap_day_is_closed_where_it_exists():
    assert expand("02-29", "02-29", date(2027, 1, 1), date(2028, 12, 31)) == [
        (date(2028, 2, 29), date(2028, 2, 29))
    ]
    assert expand("02-01", "02-29", date(2027, 1, 1), date(2028, 12, 31)) == [
        (date(2027, 2, 1), date(2027, 2, 28)),
        (date(2028, 2, 1), date(2028, 2, 29)),
    ]
