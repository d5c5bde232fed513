"""The verifier accepts a valid plan and finds each kind of corruption."""

import ast
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forestcycle.errors import StoreError
from forestcycle.schedule import verification
from forestcycle.schedule.verification.files import closed_windows, read_plan
from forestcycle.schedule.verification.proof import bound_of_prices
from forestcycle.schedule.verify import verify
from tests.schedule.written_plan import plan_tables, with_fact, write_plan


@pytest.fixture(scope="module")
def tables():
    return plan_tables()


def changed(tables, layer, row, **values):
    """The tables with other values in one row of one of them."""
    table = tables[layer].copy()
    for column, value in values.items():
        table.loc[table.index[row], column] = value
    return tables | {layer: table}


def without(tables, layer, row):
    table = tables[layer]
    return tables | {layer: table.drop(index=table.index[row])}


def said(folder, tables):
    found = verify(write_plan(folder, tables))
    assert not found.ok
    return " | ".join(str(fault) for fault in found.faults)


def row_of_tree(tables, tree_id):
    return int(np.flatnonzero(tables["trees"]["tree_id"] == tree_id)[0])


def first_tree(tables):
    return row_of_tree(tables, tables["stops"]["tree_id"].iloc[0])


@pytest.mark.parametrize("seed", range(3))
def test_a_valid_plan_passes(tmp_path, seed):
    tables = plan_tables(seed=seed + 3)
    found = verify(write_plan(tmp_path, tables))
    assert found.ok, found.faults
    assert found.counts["stops"] == len(tables["stops"]) > 50
    alone = verify(tmp_path / "plan.gpkg")
    assert alone.ok


@pytest.mark.parametrize("seed", range(3))
def test_the_bound_is_found_again_from_the_files(tmp_path, seed):
    tables = plan_tables(count=90 + seed, seed=seed)
    plan = read_plan(write_plan(tmp_path, tables))
    assert bound_of_prices(plan) == pytest.approx(float(plan.facts["bound"]), rel=1e-8)


def test_a_missing_table_or_column_is_named(tmp_path, tables):
    fewer = {name: table for name, table in tables.items() if name != "round_trips"}
    fewer["stops"] = fewer["stops"].drop(columns="dose")
    with pytest.raises(StoreError, match=r"(?s)no column 'dose'.*round_trips: has no such table"):
        verify(write_plan(tmp_path, fewer))


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(StoreError, match=r"plan\.gpkg"):
        verify(tmp_path)


def test_unknown_tree(tmp_path, tables):
    assert "no tree of the inventory" in said(tmp_path, changed(tables, "stops", 3, tree_id="X"))


def test_tree_visited_twice(tmp_path, tables):
    twice = tables["stops"]["tree_id"].iloc[0]
    assert "visited twice" in said(tmp_path, changed(tables, "stops", 5, tree_id=twice))


def test_tree_listed_twice(tmp_path, tables):
    tree_id = tables["trees"]["tree_id"].iloc[0]
    assert "listed twice" in said(tmp_path, changed(tables, "trees", 1, tree_id=tree_id))


def test_planned_tree_with_a_reason(tmp_path, tables):
    wrong = changed(tables, "trees", first_tree(tables), reason="budget")
    assert "yet has a reason" in said(tmp_path, wrong)


def test_left_out_tree_without_a_reason(tmp_path, tables):
    left_out = int(np.flatnonzero(tables["trees"]["reason"] != "")[0])
    assert "without a reason" in said(tmp_path, changed(tables, "trees", left_out, reason=""))


def test_tree_booked_on_another_day(tmp_path, tables):
    wrong = changed(tables, "trees", first_tree(tables), planned_on=pd.Timestamp("2027-03-03"))
    assert "not that of its stop" in said(tmp_path, wrong)


def test_mandatory_tree_left_out(tmp_path, tables):
    left_out = int(np.flatnonzero(tables["trees"]["reason"] != "")[0])
    wrong = changed(tables, "trees", left_out, mandatory=True)
    assert "mandatory and not planned" in said(tmp_path, wrong)


def test_visit_before_its_recall(tmp_path, tables):
    wrong = changed(tables, "trees", first_tree(tables), not_before=pd.Timestamp("2027-12-01"))
    assert "before its recall" in said(tmp_path, wrong)


def test_visit_after_its_deadline(tmp_path, tables):
    wrong = changed(tables, "trees", first_tree(tables), deadline=pd.Timestamp("2027-01-01"))
    assert "after its deadline" in said(tmp_path, wrong)


def test_visit_in_a_closed_season(tmp_path, tables):
    windows = "2026-01-01/2026-02-01 frost; 2027-03-01/2027-03-31 spring flush"
    wrong = changed(tables, "trees", first_tree(tables), closed_windows=windows)
    assert "closed season" in said(tmp_path, wrong)


@pytest.mark.parametrize("text", ["spring", "2027-04-01", "2027-04-01/2027-13-01 flush"])
def test_a_closed_window_that_cannot_be_read_is_named(tmp_path, tables, text):
    wrong = changed(tables, "trees", 0, closed_windows=text)
    with pytest.raises(StoreError, match=f"closed windows '{text}' cannot be read"):
        verify(write_plan(tmp_path, wrong))


def test_both_ends_of_a_closed_window_are_closed():
    windows = closed_windows("2027-04-01/2027-05-15 spring flush; 2027-06-01/2027-06-01 market")
    assert [str(day.date()) for span in windows for day in span] == [
        "2027-04-01",
        "2027-05-15",
        "2027-06-01",
        "2027-06-01",
    ]


def test_visit_outside_the_year(tmp_path, tables):
    wrong = changed(tables, "stops", 0, date=pd.Timestamp("2028-03-01"))
    assert "outside the plan's year" in said(tmp_path, wrong)


def test_dose_over_its_limit(tmp_path, tables):
    assert "more than its dose limit" in said(tmp_path, changed(tables, "stops", 0, dose=0.3))


def test_dose_other_than_prescribed(tmp_path, tables):
    assert "another dose" in said(tmp_path, changed(tables, "stops", 0, dose=0.2))


def test_crew_without_the_skill(tmp_path, tables):
    south = tables["stops"].loc[tables["stops"]["crew"] == "South", "tree_id"].iloc[0]
    wrong = changed(tables, "trees", row_of_tree(tables, south), skill="climb")
    assert "lacks the skill" in said(tmp_path, wrong)


def with_rules(tables, **rules):
    """The tables of a plan whose settings have rules of hours or equipment."""
    facts = tables["run"].set_index("key")["value"]
    settings = json.loads(facts["settings"]) | rules
    return with_fact(tables, "settings", json.dumps(settings))


def test_work_outside_the_hours_of_a_rule(tmp_path, tables):
    stop = tables["stops"].iloc[0]
    rule = {"name": "market", "tree_ids": [stop["tree_id"]], "work_from": "06:00"}
    leave = stop["arrive_minute"] + stop["service_minutes"]
    until = f"{int(leave) // 60:02d}:{int(leave) % 60:02d}"
    said_now = said(tmp_path, with_rules(tables, hours=[rule | {"work_until": until}]))
    assert f"stops {stop['tree_id']}: is worked outside market" in said_now
    assert "hours are not those of its rules" in said_now


def test_work_within_the_hours_of_its_rules(tmp_path, tables):
    """Two rules; what crews read is the narrower of them."""
    stop = tables["stops"].iloc[0]
    ids = [stop["tree_id"]]
    rules = [
        {"name": "market", "tree_ids": ids, "work_from": "06:00", "work_until": "17:00"},
        {"name": "school", "tree_ids": ids, "work_from": "05:00", "work_until": "16:30"},
    ]
    told = changed(with_rules(tables, hours=rules), "stops", 0, hours="06:00-16:30 market, school")
    found = verify(write_plan(tmp_path, told))
    assert found.ok, found.faults


def test_crew_without_the_equipment(tmp_path, tables):
    stop = tables["stops"].iloc[0]
    rule = {"name": "lift truck", "tree_ids": [stop["tree_id"]]}
    said_now = said(tmp_path, with_rules(tables, equipment=[rule]))
    assert f"stops {stop['tree_id']}: its crew lacks the equipment" in said_now
    assert "its equipment is not that of its rules" in said_now


def test_equipment_by_height_street_and_speed_is_looked_up_again(tmp_path, tables):
    """Every kind of key, and a crew that has it: all stops but one are told."""
    facts = json.loads(tables["run"].set_index("key")["value"]["settings"])
    crews = [crew | {"equipment": ["lift truck"]} for crew in facts["crews"]]
    rule = {"name": "lift truck", "height_m": 12, "streets": ["Elm Row"], "targets": ["school"]}
    told = with_rules(tables, equipment=[rule], crews=crews)
    trees = told["trees"].set_index("tree_id").loc[told["stops"]["tree_id"]]
    needs = (
        (trees["height_m"] >= 12) | (trees["street"] == "Elm Row") | (trees["target"] == "school")
    ).to_numpy()
    stops = told["stops"].assign(equipment=np.where(needs, "lift truck", ""))
    assert 0 < needs.sum() < len(needs)
    found = verify(write_plan(tmp_path / "right", told | {"stops": stops}))
    assert found.ok, found.faults
    stops.loc[np.flatnonzero(needs)[0], "equipment"] = ""
    assert "not that of its rules" in said(tmp_path / "wrong", told | {"stops": stops})


def test_work_on_a_holiday(tmp_path, tables):
    day = tables["stops"]["crew_day_id"].iloc[0]
    row = int(np.flatnonzero(tables["crew_days"]["crew_day_id"] == day)[0])
    wrong = changed(tables, "crew_days", row, date=pd.Timestamp("2027-03-05"))
    assert "no working day" in said(tmp_path, wrong)


def test_crew_day_listed_twice(tmp_path, tables):
    twice = pd.concat([tables["crew_days"], tables["crew_days"].iloc[:1]], ignore_index=True)
    assert "listed twice" in said(tmp_path, tables | {"crew_days": twice})


def test_stop_on_no_crew_day(tmp_path, tables):
    assert "is no crew-day" in said(tmp_path, changed(tables, "stops", 0, crew_day_id="never"))


def test_storm_reserve_that_is_planned(tmp_path, tables):
    used = int(np.flatnonzero(tables["crew_days"]["use"] == "planned")[0])
    wrong = changed(tables, "crew_days", used, use="storm reserve")
    assert "storm reserve is planned" in said(tmp_path, wrong)


def test_storm_reserve_given_away(tmp_path, tables):
    kept = int(np.flatnonzero(tables["crew_days"]["use"] == "storm reserve")[0])
    wrong = changed(tables, "crew_days", kept, use="free")
    assert "fewer days for storms" in said(tmp_path, wrong)


def test_stops_out_of_order(tmp_path, tables):
    wrong = changed(tables, "stops", 1, stop_order=7)
    assert "place in the day is wrong" in said(tmp_path, wrong)


def test_leg_that_joins_other_stops(tmp_path, tables):
    wrong = changed(tables, "legs", 1, from_node="South yard")
    assert "does not join its stops" in said(tmp_path, wrong)


def test_leg_missing(tmp_path, tables):
    assert "legs for" in said(tmp_path, without(tables, "legs", 2))


def moving(tables):
    return int(np.flatnonzero(tables["legs"]["metres"] > 100)[1])


def test_leg_too_fast(tmp_path, tables):
    assert "faster than" in said(tmp_path, changed(tables, "legs", moving(tables), minutes=0.1))


def test_leg_shorter_than_the_straight_line(tmp_path, tables):
    wrong = changed(tables, "legs", moving(tables), metres=50.0)
    assert "straight line" in said(tmp_path, wrong)


def test_leg_that_ends_elsewhere(tmp_path, tables):
    row = moving(tables)
    legs = tables["legs"].copy()
    legs.loc[row, "geometry"] = legs.geometry.iloc[row].reverse()
    assert "ends elsewhere" in said(tmp_path, tables | {"legs": legs})


def test_work_begins_too_early(tmp_path, tables):
    early = tables["stops"]["arrive_minute"].iloc[1] - 5
    wrong = changed(tables, "stops", 1, arrive_minute=early)
    assert "before the crew can be there" in said(tmp_path, wrong)


def test_minutes_at_the_tree_cut_short(tmp_path, tables):
    wrong = changed(tables, "stops", 1, service_minutes=1.0)
    assert "not those it needs" in said(tmp_path, wrong)


def test_travel_cut_short(tmp_path, tables):
    assert "not leg and parking" in said(tmp_path, changed(tables, "stops", 0, travel_minutes=0.0))


def test_crew_back_after_its_shift(tmp_path, tables):
    last = len(tables["stops"]) - 1
    wrong = changed(tables, "stops", last, arrive_minute=1100.0)
    assert "back after its shift" in said(tmp_path, wrong)


def test_crew_day_overfull(tmp_path, tables):
    stops, trees = tables["stops"].copy(), tables["trees"].copy()
    stops.loc[0, "service_minutes"] = 500.0
    trees.loc[first_tree(tables), "minutes"] = 500.0
    assert "more minutes than it has" in said(tmp_path, tables | {"stops": stops, "trees": trees})


def test_capacity_made_larger(tmp_path, tables):
    wrong = changed(tables, "crew_days", 0, capacity_minutes=999.0)
    assert "not the shift less break" in said(tmp_path, wrong)


def test_totals_of_a_crew_day(tmp_path, tables):
    wrong = changed(tables, "crew_days", 0, travel_minutes=0.5)
    assert "totals are not those" in said(tmp_path, wrong)


def test_break_not_taken(tmp_path, tables):
    """The afternoon moved forward into the break."""
    stops = tables["stops"].copy()
    day = stops["crew_day_id"] == stops["crew_day_id"].iloc[0]
    leave = (stops["arrive_minute"] + stops["service_minutes"]).shift()
    pause = stops["arrive_minute"] - leave - stops["travel_minutes"]
    rested = day & (stops["stop_order"] > 1) & (pause > 29)
    assert rested.any()
    after = day & (stops.index >= stops.index[rested][0])
    stops.loc[after, "arrive_minute"] -= 30.0
    assert "break that was not taken" in said(tmp_path, tables | {"stops": stops})


def test_cost_of_a_stop(tmp_path, tables):
    assert "cost is not the tree's" in said(tmp_path, changed(tables, "stops", 0, cost_cents=1))


def test_cost_of_a_crew_day(tmp_path, tables):
    assert "cost does not add up" in said(tmp_path, changed(tables, "crew_days", 0, cost_cents=1))


@pytest.mark.parametrize(
    ("part", "limit", "words"),
    [
        ("budget", {"year_cents": 1000, "fund_cents": {"avenues": 60_000}}, "budget.year_cents"),
        ("budget", {"year_cents": None, "fund_cents": {"avenues": 10}}, "fund 'avenues'"),
        ("plan", {"ward_least_share": {"Hill": 0.9}}, "below 90%"),
    ],
)
def test_limits_of_the_year(tmp_path, tables, part, limit, words):
    run = tables["run"].set_index("key")["value"]
    rules = json.loads(run["settings"])
    rules[part] |= limit
    assert words in said(tmp_path, with_fact(tables, "settings", json.dumps(rules)))


def test_worth_that_is_not_the_trees(tmp_path, tables):
    assert "run: worth" in said(tmp_path, with_fact(tables, "worth", "1.0"))


def test_bound_lower_than_its_prices_prove(tmp_path, tables):
    run = tables["run"].set_index("key")["value"]
    lower = repr(float(run["bound"]) * 0.99)
    assert "the prices prove only" in said(tmp_path, with_fact(tables, "bound", lower))


def test_worth_above_the_bound(tmp_path, tables):
    """Priorities raised after the bound was stated."""
    trees = tables["trees"].copy()
    trees["priority"] = np.where(trees["reason"] == "", trees["priority"] * 10, 0.0)
    worth = repr(float(trees.loc[trees["reason"] == "", "priority"].sum()))
    assert "run: bound" in said(tmp_path, with_fact(tables | {"trees": trees}, "worth", worth))


def test_negative_price(tmp_path, tables):
    assert "below zero" in said(tmp_path, changed(tables, "prices", 0, price=-1.0))


@pytest.mark.parametrize(
    ("layer", "values", "needle"),
    [
        ("crew_days", {"depot": "Nowhere"}, "a depot has no ways"),
        ("crew_days", {"crew": "Nobody"}, "a crew is not of the settings"),
        ("round_trips", {"place": 1}, "a way stands there twice"),
        ("round_trips", {"minutes": np.nan}, "minutes are missing"),
        ("round_trips", {"depot": "Nowhere"}, "the way to a stop is missing"),
        ("prices", {"key": "2027-03-02 North"}, "a price stands there twice"),
    ],
)
def test_tables_that_prove_nothing_are_told_and_not_stumbled_over(
    tmp_path, tables, layer, values, needle
):
    used = int(np.flatnonzero(tables["crew_days"]["use"] == "planned")[0])
    place = tables["trees"]["place"].iloc[first_tree(tables)]
    visited = int(np.flatnonzero(tables["round_trips"]["place"] == place)[0])
    row = {"crew_days": used, "round_trips": visited, "prices": 0}[layer]
    assert f"{needle}: nothing is proven" in said(tmp_path, changed(tables, layer, row, **values))


def test_summary_that_disagrees(tmp_path, tables):
    write_plan(tmp_path, tables)
    right = {"trees_planned": len(tables["stops"]), "unplanned_reasons": {"unheard of": 1}}
    (tmp_path / "summary.json").write_text(json.dumps(right | {"trees_usable": 7}), "utf-8")
    faults = " | ".join(str(fault) for fault in verify(tmp_path).faults)
    assert "trees_usable" in faults
    assert "unplanned_reasons" in faults
    assert "trees_planned" not in faults


def test_the_verifier_shares_no_code_with_the_solver():
    """Of its own room it imports nothing but itself."""
    room = Path(verification.__file__).parents[1]
    sources = [*(room / "verification").glob("*.py"), room / "verify.py"]
    trees = [ast.parse(source.read_text("utf-8")) for source in sources]
    imported = [
        node.module for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)
    ]
    own = "forestcycle.schedule.verification"
    shared = [name for name in imported if name.startswith("forestcycle.schedule")]
    assert len(shared) > 10
    assert [name for name in shared if not name.startswith(own)] == []
