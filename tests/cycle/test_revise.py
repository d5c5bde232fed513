"""Revising a written plan: facts in, a verified plan out, the old one kept."""

import json
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from forestcycle.cycle import UndoneRevision, undo_last
from forestcycle.cycle.revision_facts import Storm
from forestcycle.cycle.undo import Undone
from forestcycle.errors import PlanError, SettingsError, StoreError
from tests.cycle.revision_city import (
    FROM,
    copy_of,
    done,
    fell,
    make_planned_city,
    record,
    revise,
    table,
    visits,
)

FROM_STAMP = pd.Timestamp(FROM)


@pytest.fixture(scope="module")
def planned(tmp_path_factory) -> Path:
    return make_planned_city(tmp_path_factory.mktemp("planned") / "city")


@pytest.fixture
def city(planned, tmp_path) -> Path:
    return copy_of(planned, tmp_path / "city")


def first_day(city: Path, crew: str = "One", after: date = FROM) -> pd.Timestamp:
    stops = table(city, "stops")
    days = stops.loc[(stops["crew"] == crew) & (stops["date"] >= pd.Timestamp(after)), "date"]
    return days.min()


def before(city: Path, day: date) -> pd.DataFrame:
    stops = table(city, "stops")
    return stops[stops["date"] < pd.Timestamp(day)]


def sheets_of(city: Path, day: pd.Timestamp) -> dict[str, bytes]:
    found = (city / "plan" / "sheets").rglob(f"*{day:%Y-%m-%d}*")
    return {str(sheet.relative_to(city)): sheet.read_bytes() for sheet in found}


def test_unchanged_facts_leave_the_plan_alone(city):
    old = (city / "plan" / "plan.gpkg").read_bytes()
    answer = revise(city, date(2027, 1, 1))
    assert not answer.written
    assert set(answer.table["change"]) == {"stayed"}
    assert (city / "plan" / "plan.gpkg").read_bytes() == old
    record(city, done(before(city, FROM)))
    answer = revise(city)
    assert not answer.written
    assert set(answer.table["change"]) == {"stayed", "done"}


def test_a_lost_day_is_empty_and_the_rest_is_verified(city):
    record(city, done(before(city, FROM)))
    old, day = visits(city), first_day(city)
    answer = revise(city, lost_days=((day.date(), "One"),))
    assert answer.summary.verified, answer.summary.verification_faults
    stops, days = table(city, "stops"), table(city, "crew_days")
    lost = f"{day:%Y-%m-%d} One"
    assert lost not in set(stops["crew_day_id"])
    assert set(days.loc[days["crew_day_id"] == lost, "use"]) == {"lost"}
    counts = json.loads((city / "plan" / "revision.json").read_text())["counts"]
    assert counts["done"] == len(before(city, FROM))
    told = pd.read_csv(city / "plan" / "revision.csv")
    assert len(told) == sum(counts.values())
    moved = told[told["from_day"].eq(f"{day:%Y-%m-%d}") & told["from_crew"].eq("One")]
    assert moved["why"].str.startswith("its crew-day is lost").all()
    assert visits(city, "plan-revisions/before-0001") == old
    report = answer.report
    gained = report.worth_after - report.paid
    assert gained >= report.worth_dropped_only - report.paid_dropped_only - 1e-6
    assert report.worth_after <= report.bound
    assert not revise(city).written


def test_undo_brings_the_old_plan_back_and_says_so(city):
    old = visits(city)
    revise(city, date(2027, 1, 1), lost_days=((first_day(city).date(), "One"),))
    assert visits(city) != old
    undone = undo_last(city / "cycle.toml", city / "plan")
    assert isinstance(undone, UndoneRevision)
    assert visits(city) == old
    assert table(city, "changes")["command"].tolist() == ["revise", "undo"]
    assert not (city / "plan" / "revision.csv").exists()


def test_undo_takes_back_whichever_came_later(city):
    record(city, done(before(city, FROM)), "first.csv")
    old, day = visits(city), first_day(city)
    revise(city, lost_days=((day.date(), "One"),))
    revised = visits(city)
    ahead = table(city, "stops").query("date >= @day").head(2)
    record(city, done(ahead), "second.csv")
    settings, plan = city / "cycle.toml", city / "plan"
    undone = undo_last(settings, plan)
    assert isinstance(undone, Undone)
    assert (undone.source, undone.visits) == ("second.csv", 2)
    assert visits(city) == revised
    assert isinstance(undo_last(settings, plan), UndoneRevision)
    assert visits(city) == old
    undone = undo_last(settings, plan)
    assert isinstance(undone, Undone)
    assert undone.source == "first.csv"
    with pytest.raises(StoreError, match="undone already"):
        undo_last(settings, plan)


def test_work_not_done_finds_a_new_day_or_is_left(city):
    missed = before(city, FROM)
    answer = revise(city)
    told = answer.table.set_index("tree_id").loc[missed["tree_id"]]
    assert (told["change"] != "stayed").all()
    assert told["why"].str.startswith("no return says that it was done on its day").all()
    assert (table(city, "stops")["date"] >= pd.Timestamp(FROM)).all()
    assert answer.summary.verified, answer.summary.verification_faults


def test_papers_of_days_that_are_over_stay_as_the_crews_had_them(city):
    over = before(city, FROM)
    outcomes = ["skipped", *["done"] * (len(over) - 1)]
    record(city, done(over, outcome=outcomes))
    skipped = over["tree_id"].iloc[0]
    before_revision = sheets_of(city, over["date"].iloc[0])
    assert before_revision
    answer = revise(city)
    assert answer.table.set_index("tree_id").loc[skipped, "change"] != "stayed"
    assert sheets_of(city, over["date"].iloc[0]) == before_revision


def test_a_visit_made_otherwise_is_not_planned_again_and_is_paid(city):
    record(city, done(before(city, FROM)))
    ahead = table(city, "stops").query("date >= @day", local_dict={"day": pd.Timestamp(FROM)})
    early = ahead.head(1)
    record(city, done(early, visited_on="2027-02-15", crew="Two"), "early.csv")
    answer = revise(city)
    assert early["tree_id"].iloc[0] not in set(table(city, "stops")["tree_id"])
    aside = table(city, "done").query("not in_plan")
    assert aside["tree_id"].tolist() == early["tree_id"].tolist()
    assert answer.summary.verified, answer.summary.verification_faults


def test_a_storm_takes_days_and_opens_the_reserve(city):
    record(city, done(before(city, FROM)))
    day = first_day(city)
    kept = (table(city, "crew_days")["use"] == "storm reserve").sum()
    storm = Storm(day.date(), day.date(), ("One",))
    answer = revise(city, storms=(storm,))
    days = table(city, "crew_days")
    assert set(days.loc[days["crew_day_id"] == f"{day:%Y-%m-%d} One", "use"]) == {"emergency"}
    assert (days["use"] == "storm reserve").sum() == kept - answer.report.reserve_days_opened
    assert answer.report.reserve_days_opened == 1
    assert answer.summary.verified, answer.summary.verification_faults


def test_days_off_that_come_later_take_planned_and_reserve_days_alike(city):
    days = table(city, "crew_days").query(
        "crew == 'One' and date >= @day", local_dict={"day": FROM_STAMP}
    )
    kept = days[days["use"] == "storm reserve"]["date"].max()
    planned = days[days["use"] == "planned"]["date"].max()
    text = (city / "cycle.toml").read_text()
    off = f'name = "One"\ndays_off = [{kept:%Y-%m-%d}, {planned:%Y-%m-%d}]'
    (city / "cycle.toml").write_text(text.replace('name = "One"', off, 1))
    answer = revise(city)
    assert answer.summary.verified, answer.summary.verification_faults
    now = table(city, "crew_days").query("crew == 'One'")
    assert not now["date"].isin([kept, planned]).any()


def test_a_deadline_that_has_passed_is_told_and_the_tree_finds_another_day(city):
    visit = before(city, FROM).nlargest(1, "priority").iloc[0]
    file, name = city / "requests.csv", visit["tree_id"]
    day = f"{visit['date']:%Y-%m-%d}"
    file.write_text(f"tree_id,requested_on,deadline,mandatory,note\n{name},2026-12-01,{day},yes,\n")
    text = (city / "cycle.toml").read_text()
    (city / "cycle.toml").write_text(
        text.replace("[layers]", '[layers]\nrequests = "requests.csv"', 1)
    )
    answer = revise(city)
    assert answer.report.deadlines_missed == [f"{name}, {day}"]
    assert answer.summary.verified, answer.summary.verification_faults
    told = answer.table.set_index("tree_id").loc[name]
    assert told["change"] != "stayed"
    assert told["why"].startswith(f"its deadline {day} has passed without a return")
    assert name in set(table(city, "stops")["tree_id"])


def test_a_crew_that_is_gone_has_no_stops_from_then_on(city):
    record(city, done(before(city, FROM)))
    day = first_day(city, "Two")
    theirs = set(table(city, "stops").query("crew == 'Two' and date >= @day")["tree_id"])
    assert theirs
    answer = revise(city, crews_gone=(("Two", day.date()),))
    assert answer.summary.verified, answer.summary.verification_faults
    assert table(city, "stops").query("crew == 'Two' and date >= @day").empty
    days = table(city, "crew_days").query("crew == 'Two' and date >= @day")
    assert set(days["use"]) == {"lost"}
    told = answer.table.set_index("tree_id").loc[sorted(theirs)]
    assert (told["change"] != "stayed").all()
    assert told["why"].str.startswith("its crew-day is lost").all()
    assert (told.loc[told["to_crew"] != "", "to_crew"] == "One").all()


def test_a_budget_that_is_cut_is_kept_and_every_visit_left_has_a_reason(city):
    record(city, done(before(city, FROM)))
    days = table(city, "crew_days").query("stops > 0")
    spent = int(days.loc[days["date"] < FROM_STAMP, "cost_cents"].sum())
    cut = (spent + int(days["cost_cents"].sum())) // 2
    text = (city / "cycle.toml").read_text()
    (city / "cycle.toml").write_text(text.replace("year_cents = 3000000", f"year_cents = {cut}"))
    answer = revise(city)
    assert answer.summary.verified, answer.summary.verification_faults
    assert spent < table(city, "crew_days").query("stops > 0")["cost_cents"].sum() <= cut
    left = answer.table.query("change == 'left'")
    assert len(left)
    assert (left["why"] != "").all()


def test_a_request_that_comes_in_brings_its_tree_into_the_plan(city):
    record(city, done(before(city, FROM)))
    trees, stops = table(city, "trees"), table(city, "stops")
    waiting = trees[~trees["tree_id"].isin(stops["tree_id"]) & (trees["place"] >= 0)]
    name = waiting.nsmallest(1, "minutes")["tree_id"].iloc[0]
    (city / "requests.csv").write_text(
        f"tree_id,requested_on,deadline,mandatory,note\n{name},2027-02-20,2027-12-01,yes,school\n"
    )
    text = (city / "cycle.toml").read_text()
    (city / "cycle.toml").write_text(
        text.replace("[layers]", '[layers]\nrequests = "requests.csv"', 1)
    )
    answer = revise(city)
    assert answer.summary.verified, answer.summary.verification_faults
    told = answer.table.set_index("tree_id").loc[name]
    assert told["change"] == "came"
    assert told["why"] == "worth more than the plan knew, or asked for anew"
    (stop,) = table(city, "stops").query("tree_id == @name").itertuples()
    assert FROM_STAMP <= stop.date <= pd.Timestamp("2027-12-01")


def test_a_visit_to_a_tree_felled_since_is_still_done_and_paid(city):
    over = before(city, FROM)
    record(city, done(over))
    name, cents = over["tree_id"].iloc[0], int(over["cost_cents"].iloc[0])
    fell(city, [name])
    answer = revise(city)
    assert answer.summary.verified, answer.summary.verification_faults
    visit = table(city, "done").set_index("tree_id").loc[name]
    assert not visit["in_plan"]
    assert (visit["cost_cents"], visit["fund"]) == (cents, over["fund"].iloc[0])
    assert visit["worth"] == over["priority"].iloc[0]
    told = answer.table.set_index("tree_id").loc[name]
    assert told["change"] == "done otherwise than planned"
    assert told["why"].endswith("; now no longer a usable tree of the inventory")
    again = revise(city, date(2027, 3, 2), lost_days=((first_day(city).date(), "One"),))
    assert again.written
    pd.testing.assert_series_equal(table(city, "done").set_index("tree_id").loc[name], visit)


def test_days_of_a_crew_that_the_settings_no_longer_have_stay_paid(city):
    record(city, done(before(city, FROM)))
    days = table(city, "crew_days").query("stops > 0 and crew == 'Two' and date < @FROM_STAMP")
    assert len(days)
    text = (city / "cycle.toml").read_text()
    start, end = text.rindex("[[crews]]"), text.index("[budget]")
    (city / "cycle.toml").write_text(text[:start] + text[end:])
    for from_day in (FROM, date(2027, 3, 2)):
        revise(city, from_day, lost_days=((first_day(city).date(), "One"),))
        assert table(city, "done")["day_cost_cents"].sum() == 40_000 * len(days)


def test_a_day_lost_half_way_is_paid_and_its_other_visits_find_a_place_or_are_left(city):
    record(city, done(before(city, FROM)))
    day = first_day(city)
    morning, *rest = table(city, "stops").query("date == @day and crew == 'One'").itertuples()
    stops = table(city, "stops")
    record(city, done(stops[stops["tree_id"] == morning.tree_id]), "morning.csv")
    answer = revise(city, day.date(), lost_days=((day.date(), "One"),))
    assert answer.summary.verified, answer.summary.verification_faults
    visit = table(city, "done").set_index("tree_id").loc[morning.tree_id]
    assert (visit["in_plan"], visit["day_cost_cents"]) == (False, 50_000)
    told = answer.table.set_index("tree_id")["why"]
    assert told[[stop.tree_id for stop in rest]].str.startswith("its crew-day is lost").all()


def test_a_visit_left_because_another_crew_is_too_dear_says_so(city):
    record(city, done(before(city, FROM)))
    text = (city / "cycle.toml").read_text()
    dear = "[revision]\nprice_other_day = 20\nprice_other_crew = 1000000\n\n[budget]"
    (city / "cycle.toml").write_text(
        text.replace("[budget]", dear).replace("year_cents = 3000000", "")
    )
    ahead = table(city, "stops").query("crew == 'Two' and date >= @FROM_STAMP")
    *lost, _ = sorted(ahead["date"].unique())
    answer = revise(city, lost_days=tuple((day.date(), "Two") for day in map(pd.Timestamp, lost)))
    assert answer.summary.verified, answer.summary.verification_faults
    told = answer.table[answer.table["tree_id"].isin(ahead["tree_id"])].query("change == 'left'")
    assert len(told)
    assert told["why"].str.endswith("worth (revision.price_other_crew).").all()
    assert not told["why"].str.contains("could still be placed").any()


def test_the_reason_told_is_the_one_that_holds(city):
    record(city, done(before(city, FROM)))
    ahead = table(city, "stops").query("date >= @FROM_STAMP and crew == 'One'")
    busiest = ahead[ahead["crew_day_id"] == ahead["crew_day_id"].mode().iloc[0]]
    felled, *_, moved = busiest["tree_id"]
    fell(city, [felled])
    other = ahead.loc[ahead["crew_day_id"] != busiest["crew_day_id"].iloc[0]].iloc[-1]
    locks = city / "locks.csv"
    locks.write_text(f"tree_id,day,crew,order\n{moved},{other['date']:%Y-%m-%d},One,\n")
    off = ahead.loc[~ahead["date"].isin([busiest["date"].iloc[0], other["date"]]), "date"].iloc[0]
    text = (city / "cycle.toml").read_text()
    (city / "cycle.toml").write_text(
        text.replace('name = "One"', f'name = "One"\ndays_off = [{off:%Y-%m-%d}]', 1)
    )
    told = revise(city, locks=locks).table.set_index("tree_id")
    assert told.loc[felled, "why"] == "no longer a usable tree of the inventory"
    assert told.loc[moved, "why"] == f"locked to {other['date']:%Y-%m-%d} and One"
    of_the_day_off = told.loc[ahead.loc[ahead["date"] == off, "tree_id"], "why"]
    assert of_the_day_off.str.startswith("its crew does not work on its day any more").all()


def test_a_year_without_a_crew_day_ahead_is_refused_in_words(city):
    last = table(city, "crew_days")["date"].max().date()
    with pytest.raises(PlanError, match=f"no crew-day is left to plan from {last} on"):
        revise(city, last, storms=(Storm(last, last),))


def test_locked_visits_stay_and_impossible_locks_are_all_told(city, tmp_path):
    record(city, done(before(city, FROM)))
    day = first_day(city)
    stops = table(city, "stops")
    same_week = stops[(stops["date"] > day) & (stops["crew"] == "One")].head(4)
    locks = tmp_path / "locks.csv"
    same_week.assign(day="yes", crew="yes", order="")[["tree_id", "day", "crew", "order"]].to_csv(
        locks, index=False
    )
    revise(city, lost_days=((day.date(), "One"),), locks=locks)
    now = table(city, "stops").set_index("tree_id")
    for visit in same_week.itertuples():
        assert now.loc[visit.tree_id, "crew_day_id"] == visit.crew_day_id
    trees = table(city, "trees")["tree_id"]
    waiting = trees[~trees.isin(now.index)].iloc[0]
    locks.write_text(
        "tree_id,day,crew,order\n"
        "no such tree,2027-05-04,,\n"
        f"{waiting},yes,,\n"
        f"{same_week['tree_id'].iloc[0]},2027-01-05,,\n"
        f"{same_week['tree_id'].iloc[1]},,Three,\n"
        f"{same_week['tree_id'].iloc[2]},2027-05-04,,perhaps\n"
        f"{same_week['tree_id'].iloc[2]},2027-05-05,,\n"
    )
    with pytest.raises(SettingsError) as refused:
        revise(city, locks=locks)
    said = str(refused.value)
    for words in (
        "no such tree: is no usable tree",
        f"{waiting}: has no visit",
        "is past",
        "no crew 'Three'",
        "perhaps",
        "2027-05-04 and to",
    ):
        assert words in said


def test_facts_that_cannot_be_are_all_told(city):
    with pytest.raises(SettingsError) as refused:
        revise(
            city,
            lost_days=((date(2027, 3, 7), "One"), (date(2027, 3, 8), "On")),
            crews_gone=(("Two", date(2028, 1, 1)),),
            storms=(Storm(date(2027, 4, 2), date(2027, 4, 1)),),
        )
    said = str(refused.value)
    for words in ("anyway", "did you mean 'One'", "outside the plan", "before it begins"):
        assert words in said


def test_record_and_revise_in_any_order_end_in_the_same_recall(city, tmp_path):
    other = copy_of(city, tmp_path / "other")
    returns = done(before(city, FROM))
    day = first_day(city).date()
    record(city, returns)
    revise(city, lost_days=((day, "One"),))
    revise(other, lost_days=((day, "One"),))
    record(other, returns)
    for name in (city, other):
        text = (name / "cycle.toml").read_text()
        (name / "cycle.toml").write_text(
            text.replace("year_end", "assessed_on = 2027-06-01\nyear_end", 1)
        )
    recalls = [recall_of(folder) for folder in (city, other)]
    pd.testing.assert_frame_equal(*recalls)


def recall_of(folder: Path) -> pd.DataFrame:
    from forestcycle.cycle import assess_city, open_city

    assessed = assess_city(open_city(folder / "cycle.toml")).trees
    return assessed[["tree_id", "not_before", "due", "overdue_after", "recall_state"]]
