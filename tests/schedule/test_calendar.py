"""Who works on which day, against the calendar of Python's standard library."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from forestcycle.errors import PlanError
from forestcycle.schedule.calendar import crew_calendar, spread_evenly
from forestcycle.settings import CycleSettings


def year(*crews, first="2027-01-01", last="2027-12-31", **calendar):
    return CycleSettings.model_validate(
        {
            "city": {
                "name": "Elmstead",
                "inventory": "elmstead.gpkg",
                "year_start": first,
                "year_end": last,
            },
            "calendar": calendar,
            "crews": [{"name": f"crew {n}"} | crew for n, crew in enumerate(crews)],
        }
    )


def dates(calendar, crew=0):
    return [calendar.date_of(day) for day in calendar.day[calendar.crew == crew]]


def test_a_plain_year_has_every_weekday():
    """2027 has 261 days from Monday to Friday (it begins on a Friday and has 365 days)."""
    calendar = crew_calendar(year({}))
    assert len(calendar.day) == 261
    assert calendar.days == 365
    assert all(day.weekday() < 5 for day in dates(calendar))
    assert not calendar.storm_reserve.any()


def test_leap_day_is_a_day():
    assert date(2028, 2, 29) in dates(
        crew_calendar(year({}, first="2028-02-01", last="2028-03-31"))
    )


def test_a_year_may_run_over_new_year():
    worked = dates(crew_calendar(year({}, first="2027-11-01", last="2028-10-31")))
    assert worked[0] == date(2027, 11, 1)
    assert worked[-1] == date(2028, 10, 31)


def test_one_day_is_enough():
    assert dates(crew_calendar(year({}, first="2027-03-01", last="2027-03-01"))) == [
        date(2027, 3, 1)
    ]


days_of_2027 = st.dates(date(2027, 1, 1), date(2027, 12, 31))


@hypothesis_settings(max_examples=60, deadline=None)
@given(
    holidays=st.sets(days_of_2027, max_size=20),
    off=st.sets(days_of_2027, max_size=20),
    span=st.tuples(days_of_2027, days_of_2027),
    weekend=st.booleans(),
)
def test_days_are_those_that_nothing_rules_out(holidays, off, span, weekend):
    """Holidays hold for all crews, days off and first and last day for their own only."""
    first, last = min(span), max(span)
    crews = [{"days_off": sorted(off), "first_day": first, "last_day": last}, {}]
    crews[0] |= {"workdays": ["sat", "sun"]} if weekend else {}
    week = {5, 6} if weekend else {0, 1, 2, 3, 4}
    every = [date(2027, 1, 1) + timedelta(days=n) for n in range(365)]
    expected = [
        day
        for day in every
        if day.weekday() in week and first <= day <= last and day not in holidays | off
    ]
    if not expected:
        with pytest.raises(PlanError, match="'crew 0' has no working day"):
            crew_calendar(year(*crews, holidays=sorted(holidays)))
        return
    calendar = crew_calendar(year(*crews, holidays=sorted(holidays)))
    assert dates(calendar) == expected
    assert dates(calendar, 1) == [day for day in every if day.weekday() < 5 and day not in holidays]


@given(st.integers(0, 400), st.floats(0, 1))
def test_chosen_days_are_spread_evenly(length, share):
    """Distinct, inside, and no gap longer than another by more than a step; ends half a gap."""
    count = round(share * length)
    chosen = spread_evenly(length, count)
    assert len(chosen) == count
    if not count:
        return
    assert chosen[0] >= 0
    assert chosen[-1] < length
    gaps = np.diff(chosen)
    assert (gaps >= 1).all()
    assert np.ptp(gaps) <= 1 if len(gaps) else True
    assert abs(chosen[0] - (length - 1 - chosen[-1])) <= 1


@hypothesis_settings(max_examples=40, deadline=None)
@given(share=st.floats(0, 0.9), most=st.integers(1, 300))
def test_reserve_and_most_days(share, most):
    """The reserve is a share of each crew's own days, and ``most_days`` counts it in."""
    calendar = crew_calendar(year({"most_days": most}, {}, storm_reserve=share))
    for crew, days in enumerate((min(most, 261), 261)):
        mine = calendar.crew == crew
        assert mine.sum() == days
        assert calendar.storm_reserve[mine].sum() == round(share * days)


def test_the_reserve_reaches_every_quarter():
    """A tenth of the days: no quarter of the year has less than six or more than eight."""
    calendar = crew_calendar(year({}, storm_reserve=0.1))
    kept = [calendar.date_of(day).month for day in calendar.day[calendar.storm_reserve]]
    quarters = np.bincount((np.array(kept) - 1) // 3)
    assert quarters.sum() == 26
    assert quarters.min() >= 6
    assert quarters.max() <= 8


def test_every_idle_crew_is_named():
    crews = [{"last_day": "2026-12-31"}, {}, {"workdays": ["mon"], "first_day": "2027-12-28"}]
    with pytest.raises(PlanError) as refusal:
        crew_calendar(year(*crews))
    assert [fault.what.split("'")[1] for fault in refusal.value.faults] == ["crew 0", "crew 2"]


def test_no_crew_is_said():
    with pytest.raises(PlanError, match="no crew"):
        crew_calendar(year())
