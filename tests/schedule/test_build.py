"""From tables to the packing problem: who is in it, who is not and why."""

from datetime import date
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely import LineString

from forestcycle.errors import Fault, PlanError
from forestcycle.inventory import Inventory
from forestcycle.practice import Assessment
from forestcycle.schedule.build import build_problem
from forestcycle.schedule.calendar import crew_calendar
from forestcycle.schedule.eligibility import REMEDIES, Ineligible
from forestcycle.settings import CycleSettings
from tests.schedule.tiny import TableTravel

CRS = "EPSG:32633"
INVENTORY_COLUMNS = ["tree_id", "fund", "ward", "target", "street"]
FIRST, LAST = date(2027, 3, 1), date(2027, 3, 12)
"""A Monday to the Friday of the week after: ten working days."""
NEVER = pd.NaT
SPRING = [(date(2027, 3, 1), date(2027, 3, 12), "spring flush")]
FIRST_WEEK = [(date(2027, 3, 1), date(2027, 3, 7), "nesting")]


class Travel(TableTravel):
    """One place per tree and two depots, each leg 20 minutes; place 3 has no way at all."""

    place_count = 4
    notes = (Fault("1 street is cut off", "streets", "join it"),)


def travel():
    table = 20.0 * (1 - np.eye(6))
    table[3, :] = table[:, 3] = np.inf
    table[3, 3] = 0.0
    return Travel(table)


def rules(*, crews=None, **parts):
    """One crew of seven hours, which may climb."""
    one = {"name": "North", "skills": ["climb"], "shift_minutes": 470}
    return CycleSettings.model_validate(
        {
            "city": {
                "name": "Elmstead",
                "inventory": "elmstead.gpkg",
                "year_start": FIRST,
                "year_end": LAST,
            },
            "crews": [one] if crews is None else crews,
            "travel": {"parking_minutes": 5.0},
        }
        | parts
    )


def built(rows, settings=None):
    """The problem for some trees, each a dict of what is unusual about it."""
    count = len(rows)
    usual = {
        "priority": 1.0,
        "minutes": 30.0,
        "skill": "ground",
        "cost_cents": 500,
        "mandatory": False,
        "season": 0,
        "not_before": NEVER,
        "deadline": NEVER,
        "place": 0,
        "fund": "",
        "ward": "",
        "target": "unknown",
        "street": "",
        "height_m": 8.0,
        "brush_kg": 40.0,
    }
    table = pd.DataFrame([usual | row for row in rows], columns=list(usual))
    table["tree_id"] = [f"T{number}" for number in range(count)]
    for column in ("not_before", "deadline"):
        table[column] = pd.to_datetime(table[column])
    points = gpd.points_from_xy(100.0 * np.arange(count), np.zeros(count))
    empty = pd.DataFrame()
    inventory = Inventory(
        trees=gpd.GeoDataFrame(table[INVENTORY_COLUMNS], geometry=points, crs=CRS),
        set_aside=empty,
        defects=empty,
        visits=empty,
        requests=empty,
        streets=gpd.GeoDataFrame(
            {"street": ["Elm Row", "Ring Road", ""], "speed_kmh": [30.0, 70.0, 90.0]},
            geometry=[LineString([(0, y), (900, y)]) for y in (0, 50, 90)],
            crs=CRS,
        ),
        wards=None,
        depots=gpd.GeoDataFrame(
            {"depot": ["North yard", "South yard"]},
            geometry=gpd.points_from_xy([0, 900], [0, 0]),
            crs=CRS,
        ),
        parks=None,
        rows_read=count,
        source=Path("elmstead.gpkg"),
        sha256="",
    )
    assessment = Assessment(table, empty, [[], SPRING, FIRST_WEEK], empty, FIRST)
    place = table["place"].to_numpy(np.int64)
    return build_problem(inventory, assessment, settings or rules(), travel(), place)


CASES = [
    ({}, Ineligible.ELIGIBLE),
    ({"priority": 0.0}, Ineligible.NOTHING_TO_DO),
    ({"minutes": 0.0}, Ineligible.NOTHING_TO_DO),
    ({"not_before": "2027-03-13"}, Ineligible.NOT_YET_DUE),
    ({"not_before": "2027-03-12"}, Ineligible.ELIGIBLE),
    ({"season": 1}, Ineligible.SHUT),
    ({"season": 2}, Ineligible.ELIGIBLE),
    ({"season": 2, "deadline": "2027-03-07"}, Ineligible.SHUT),
    ({"season": 2, "deadline": "2027-03-08"}, Ineligible.ELIGIBLE),
    ({"deadline": "2027-02-20"}, Ineligible.SHUT),
    ({"skill": "lift"}, Ineligible.NO_SKILL),
    ({"skill": "climb"}, Ineligible.ELIGIBLE),
    ({"place": 3}, Ineligible.UNREACHABLE),
    ({"minutes": 376.0}, Ineligible.TOO_LONG),
    ({"minutes": 375.0}, Ineligible.ELIGIBLE),
]
"""375 minutes: a shift of 470 less 30 of break, 20 of set-up, 40 of driving and 5 of parking."""


def test_reasons_are_those_worked_by_hand():
    problem, reason = built([row for row, _ in CASES])
    assert reason.tolist() == [str(expected) for _, expected in CASES]
    assert problem.tree.tolist() == [k for k, (_, why) in enumerate(CASES) if not why]


def test_below_the_least_worth():
    _, reason = built([{"priority": 0.4}, {"priority": 0.5}], rules(plan={"least_worth": 0.5}))
    assert reason.tolist() == [str(Ineligible.BELOW_LEAST_WORTH), ""]


def test_no_single_crew_fits():
    """The climber works in the closed week only; the other crew cannot climb."""
    crews = [
        {"name": "North", "skills": ["climb"], "last_day": "2027-03-05"},
        {"name": "South", "skills": ["ground"]},
    ]
    _, reason = built([{"skill": "climb", "season": 2}, {"season": 2}], rules(crews=crews))
    assert reason.tolist() == [str(Ineligible.NO_CREW_FITS), ""]


@hypothesis_settings(max_examples=60, deadline=None)
@given(
    opens=st.dates(date(2027, 2, 20), LAST),
    shuts=st.none() | st.dates(date(2027, 2, 20), date(2027, 4, 1)),
    season=st.sampled_from([0, 2]),
)
def test_a_window_is_open_on_days_that_nothing_closes(opens, shuts, season):
    """Both ends of recall, deadline and season count, as a forester reads dates."""
    row = {"not_before": opens, "deadline": shuts, "season": season}
    problem, _ = built([row, {}])
    calendar = crew_calendar(rules())
    open_on = {
        calendar.date_of(day)
        for day in problem.date
        if problem.tree[0] == 0 and problem.open_on[problem.window[0], day]
    }
    assert open_on == {
        day
        for day in map(calendar.date_of, calendar.day)
        if opens <= day <= (shuts or LAST) and not (season == 2 and day <= date(2027, 3, 7))
    }


def test_crew_days_are_the_calendar_s_less_the_reserve():
    settings = rules(calendar={"storm_reserve": 0.2, "holidays": ["2027-03-03"]})
    problem, _ = built([{}], settings)
    calendar = crew_calendar(settings)
    np.testing.assert_array_equal(problem.date, calendar.day[~calendar.storm_reserve])
    assert len(problem.date) == 7


def test_what_a_crew_brings():
    crews = [
        {
            "name": "North",
            "skills": ["climb", "lift"],
            "depot": "South yard",
            "shift_start": "06:30",
            "setup_minutes": 15,
            "break_minutes": 45,
            "day_cost_cents": 90_000,
        },
        {"name": "South", "skills": ["line_clearance"]},
    ]
    problem, _ = built([{}], rules(crews=crews))
    north, south = np.flatnonzero(problem.crew == 0)[0], np.flatnonzero(problem.crew == 1)[0]
    assert problem.depot[[north, south]].tolist() == [5, 4]
    assert problem.start_minute[north] == 6 * 60 + 30 + 15
    assert problem.capacity_minutes[north] == 480 - 45 - 15
    assert problem.break_minutes[north] == 45
    assert problem.day_cost_cents[[north, south]].tolist() == [90_000, 0]
    assert problem.crew_skill[[north, south]].tolist() == [1 | 2 | 4, 1 | 8]


def test_funds_and_wards_by_position():
    settings = rules(
        budget={"year_cents": 10**6, "fund_cents": {"avenues": 700, "parks": 900}},
        plan={"ward_least_share": {"Hill": 0.2}},
    )
    rows = [{"fund": "parks", "ward": "Hill"}, {"fund": "avenues", "ward": "River"}, {"fund": ""}]
    problem, _ = built(rows, settings)
    assert problem.fund.tolist() == [1, 0, -1]
    assert problem.ward.tolist() == [0, -1, -1]
    assert problem.fund_budget_cents.tolist() == [700, 900]
    assert problem.ward_least_share.tolist() == [0.2]
    assert problem.budget_cents == 10**6


SCHOOL = {
    "name": "school",
    "targets": ["school"],
    "work_from": "12:00",
    "work_until": "14:00",
}
RUSH = {
    "name": "rush hours",
    "streets": ["Elm Row"],
    "tree_ids": ["T3"],
    "work_from": "09:00",
    "work_until": "12:45",
}


def test_hours_are_the_narrowest_of_the_rules_for_a_tree():
    rows = [{}, {"target": "school"}, {"street": "Elm Row", "target": "school"}, {}]
    problem, reason = built(rows, rules(hours=[SCHOOL, RUSH]))
    assert reason.tolist() == [""] * 4
    assert problem.hours_from.tolist() == [0, 720, 720, 540]
    assert problem.hours_until.tolist() == [1440, 840, 765, 765]


@pytest.mark.parametrize(
    ("minutes", "hours", "expected"),
    [
        (120.0, ("12:00", "14:00"), Ineligible.ELIGIBLE),
        (121.0, ("12:00", "14:00"), Ineligible.OUT_OF_HOURS),
        (120.0, ("14:00", "18:00"), Ineligible.OUT_OF_HOURS),
        (10.0, ("14:00", "18:00"), Ineligible.ELIGIBLE),
        (20.0, ("07:00", "08:05"), Ineligible.ELIGIBLE),
        (21.0, ("07:00", "08:05"), Ineligible.OUT_OF_HOURS),
    ],
)
def test_a_visit_lies_within_its_hours_and_the_crew_is_back_in_time(minutes, hours, expected):
    """Shift 7:00 to 14:50, set-up 20 minutes, 25 minutes there with parking, 20 minutes home."""
    rule = SCHOOL | {"work_from": hours[0], "work_until": hours[1]}
    rows = [{}, {"target": "school", "minutes": minutes}]
    _, reason = built(rows, rules(hours=[rule]))
    assert reason.tolist() == ["", str(expected)]


def test_rules_that_leave_no_time_are_a_reason():
    late = RUSH | {"work_from": "14:00", "work_until": "14:30"}
    _, reason = built([{}, {"street": "Elm Row", "target": "school"}], rules(hours=[SCHOOL, late]))
    assert reason.tolist() == ["", str(Ineligible.OUT_OF_HOURS)]


def test_equipment_is_needed_by_height_brush_street_and_speed():
    crews = [
        {"name": "North", "skills": ["climb"], "equipment": ["chipper", "trailer"]},
        {"name": "South"},
    ]
    equipment = [
        {"name": "chipper", "brush_kg": 100},
        {"name": "trailer", "street_kmh": 50, "targets": ["playground"]},
        {"name": "crane", "height_m": 25},
    ]
    rows = [
        {},
        {"brush_kg": 100.0},
        {"street": "Ring Road"},
        {"street": "Elm Row"},
        {"target": "playground", "brush_kg": 200.0},
        {"height_m": 25.0},
    ]
    problem, reason = built(rows, rules(crews=crews, equipment=equipment))
    assert reason.tolist() == [""] * 5 + [str(Ineligible.NO_EQUIPMENT)]
    able = (problem.skill[:, None] & ~problem.crew_skill) == 0
    north, south = able[:, problem.crew == 0].all(axis=1), able[:, problem.crew == 1].all(axis=1)
    assert north.tolist() == [True] * 5
    assert south.tolist() == [True, False, False, True, False]


def test_skill_and_equipment_must_meet_in_one_crew():
    crews = [{"name": "North", "skills": ["climb"]}, {"name": "South", "equipment": ["chipper"]}]
    equipment = [{"name": "chipper", "brush_kg": 30}]
    rows = [{}, {"skill": "climb", "brush_kg": 10.0}, {"skill": "climb"}]
    _, reason = built(rows, rules(crews=crews, equipment=equipment))
    assert reason.tolist() == ["", "", str(Ineligible.NO_EQUIPMENT)]


def test_promised_trees_are_in_whatever_their_worth():
    problem, reason = built([{"mandatory": True, "priority": 0.0}, {}])
    assert reason.tolist() == ["", ""]
    assert problem.mandatory.tolist() == [True, False]
    assert (problem.worth > 0).all()


def test_hopeless_promises_are_all_named_with_what_would_help():
    with pytest.raises(PlanError) as refusal:
        built(
            [
                {"mandatory": True, "not_before": "2028-02-01"},
                {},
                {"mandatory": True, "skill": "lift"},
            ]
        )
    assert str(refusal.value).splitlines() == [
        (
            "requests: mandatory tree T0 cannot be visited: not yet due, but on 2028-02-01 "
            "-> wait until it may be pruned again, or take back the request"
        ),
        (
            "requests: mandatory tree T2 cannot be visited: no crew with the skill "
            "-> give a crew the skill it needs, or take back the request"
        ),
    ]


def test_where_a_promised_tree_cannot_be_reached_the_faults_of_the_streets_are_told():
    with pytest.raises(PlanError) as refusal:
        built([{"mandatory": True, "place": 3}, {}])
    assert str(refusal.value).splitlines() == [
        "streets: 1 street is cut off -> join it",
        (
            "requests: mandatory tree T0 cannot be visited: no way from any depot -> join its "
            "street to the network, or check one-way directions, or take back the request"
        ),
    ]


def test_every_reason_that_may_keep_a_promised_tree_out_has_a_remedy():
    """Worth keeps none out: a promise counts whatever the tree is worth."""
    of_worth = {Ineligible.NOTHING_TO_DO, Ineligible.BELOW_LEAST_WORTH}
    assert set(REMEDIES) == set(Ineligible) - of_worth - {Ineligible.ELIGIBLE}


def test_no_tree_to_plan_is_said_with_the_reasons():
    with pytest.raises(PlanError, match="longer than any shift: 2") as refusal:
        built([{"minutes": 999.0}, {"minutes": 999.0}, {"skill": "lift"}])
    assert "no crew with the skill: 1" in str(refusal.value)


def test_an_empty_inventory_is_said():
    with pytest.raises(PlanError, match="the inventory is empty"):
        built([])


def test_a_year_of_nothing_but_reserve_is_refused():
    one_day = {"name": "North", "last_day": "2027-03-01"}
    with pytest.raises(PlanError, match="every crew-day is storm reserve"):
        built([{}], rules(crews=[one_day], calendar={"storm_reserve": 0.9}))


def test_an_unknown_depot_is_named_with_the_known_ones():
    with pytest.raises(PlanError, match=r"no depot 'East yard'.*North yard, South yard"):
        built([{}], rules(crews=[{"name": "North", "depot": "East yard"}]))
