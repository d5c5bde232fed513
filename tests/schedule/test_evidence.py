"""The tables from which a stranger computes the bound again."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.schedule.evidence import price_rows, round_trip_rows
from tests.schedule.written_plan import greedy_plan, invented_problem, invented_trees

DEPOTS = ("North yard", "South yard")


@pytest.fixture(scope="module")
def planned():
    problem = invented_problem(invented_trees(80, 4), 4)
    return problem, greedy_plan(problem)


def ids_of(problem):
    return [f"day {number}" for number in range(problem.crew_days)]


def names_of(problem):
    return dict(enumerate(DEPOTS, int(problem.depot.min())))


def test_every_price_is_there(planned):
    problem, plan = planned
    rows = price_rows(problem, plan, ids_of(problem))
    prices, of_day = plan.bound.prices, plan.bound.groups.of_crew_day
    by_kind = {kind: part["price"].to_numpy() for kind, part in rows.groupby("kind")}
    assert by_kind["minute"] == pytest.approx(prices.minute[of_day])
    assert by_kind["stop minute"] == pytest.approx(prices.stop_minute[of_day])
    assert by_kind["group"] == pytest.approx(of_day)
    assert by_kind["cent"] == pytest.approx([prices.cent])
    assert by_kind["fund cent"] == pytest.approx(prices.fund_cent)
    assert by_kind["ward minute"] == pytest.approx(prices.ward_minute)
    assert by_kind["promised"] == pytest.approx([float(prices.promised)])
    assert (by_kind["home minutes"] >= 0).all()


def test_every_crew_day_has_its_prices_by_name(planned):
    problem, plan = planned
    rows = price_rows(problem, plan, ids_of(problem))
    for kind in ("minute", "stop minute", "home minutes", "group"):
        assert rows.loc[rows["kind"] == kind, "key"].tolist() == ids_of(problem)


def test_round_trips_are_those_of_the_travel_table(planned):
    problem, plan = planned
    rows = round_trip_rows(problem, plan, names_of(problem))
    assert sorted(rows["place"].unique()) == sorted(np.unique(problem.place))
    assert not rows.duplicated(["place", "depot"]).any()
    first = int(problem.depot.min())
    for depot, part in rows.groupby("depot"):
        node, places = [first + DEPOTS.index(depot)], part["place"].to_numpy()
        there = problem.travel.minutes(node, places)[0]
        back = problem.travel.minutes(places, node)[:, 0]
        assert part["minutes"].to_numpy() == pytest.approx(there + back)
    assert (rows["stop_minutes"] >= 0).all()


def test_without_a_bound_the_tables_are_empty(planned):
    problem, plan = planned
    bare = replace(plan, bound=None)
    prices, trips = (
        price_rows(problem, bare, ids_of(problem)),
        round_trip_rows(problem, bare, names_of(problem)),
    )
    assert list(prices.columns) == ["kind", "key", "price"]
    assert list(trips.columns) == ["place", "depot", "minutes", "out_minutes", "stop_minutes"]
    assert len(prices) == len(trips) == 0
