"""Revising on the day of the last returns, as who records at noon does."""

from datetime import timedelta

import pandas as pd

from tests.cycle.revision_city import done, make_planned_city, record, revise, table


def test_visits_of_the_first_day_that_is_revised_are_made(tmp_path):
    city = make_planned_city(tmp_path / "city")
    stops = table(city, "stops")
    day = stops["date"].sort_values().iloc[len(stops) // 4].date()
    record(city, done(stops[stops["date"] <= pd.Timestamp(day)]))
    later = stops.loc[stops["date"] > pd.Timestamp(day + timedelta(days=14))].iloc[0]
    answer = revise(city, day, lost_days=((later["date"].date(), later["crew"]),))
    assert answer.summary.verified, answer.summary.verification_faults
    today = table(city, "stops").query("date == @day")["tree_id"]
    assert set(today) >= set(stops.loc[stops["date"] == pd.Timestamp(day), "tree_id"])
    assert answer.report.worth_after <= answer.report.bound
