"""Mandatory visits without room: found by rearranging, or refused with what would do."""

import re
from dataclasses import replace

import numpy as np
import pytest

from forestcycle.errors import PlanError
from forestcycle.schedule.promised_alone import promised_alone
from forestcycle.schedule.promises import keep_promises
from forestcycle.schedule.subset import OF_CREW_DAYS
from forestcycle.schedule.what_would_do import what_would_do
from tests.schedule.exact import best_plan
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import TableTravel, tiny_problem


def nothing(problem):
    return [np.empty(0, dtype=np.int64)] * problem.crew_days


def promised(seed, **changes):
    """Six trees, four of them mandatory; days and visits cost money."""
    rng = np.random.default_rng(seed)
    usual = {
        "mandatory": np.arange(6) < 4,
        "capacity_minutes": np.array([150.0, 200.0]),
        "day_cost_cents": rng.integers(100, 900, 2),
    }
    return tiny_problem(rng, plain=True, **(usual | changes))


@pytest.mark.parametrize("seed", range(30))
def test_a_plan_is_found_wherever_one_exists(seed):
    """Plain enumeration says whether one does; under every kind of limit but ward shares."""
    problem = tiny_problem(
        np.random.default_rng(seed),
        trees=7,
        mandatory=np.arange(7) < 4,
        ward=np.full(7, -1),
        ward_least_share=np.zeros(0),
    )
    if best_plan(problem) is None:
        with pytest.raises(PlanError):
            keep_promises(problem, nothing(problem), None)
        return
    routes = keep_promises(problem, nothing(problem), None)
    assert broken_limits(problem, routes) == []
    assert np.isin(np.flatnonzero(problem.mandatory), np.concatenate(routes)).all()


@pytest.mark.parametrize("seed", range(12))
def test_the_budget_named_is_the_least_that_does(seed):
    problem = promised(seed, budget_cents=1)
    if best_plan(replace(problem, budget_cents=None)) is None:
        return
    said = what_would_do(problem, promised_alone(problem), nothing(problem))
    named = re.match(r"a budget of ([\d,.]+) would do and is the least", said)
    cents = round(float(named.group(1).replace(",", "")) * 100)
    assert best_plan(replace(problem, budget_cents=cents)) is not None
    assert best_plan(replace(problem, budget_cents=cents - 1)) is None
    enough = replace(problem, budget_cents=cents)
    routes = keep_promises(enough, nothing(enough), None)
    assert broken_limits(enough, routes) == []


@pytest.mark.parametrize("days", [1, 2])
def test_the_crew_days_named_do_and_fewer_do_not(days):
    """Six hours' work in one place; a crew-day holds two of the six."""
    problem = tiny_problem(
        np.random.default_rng(5),
        crew_days=days,
        plain=True,
        mandatory=np.ones(6, dtype=np.bool_),
        service_minutes=np.full(6, 60.0),
        capacity_minutes=np.full(days, 150.0),
        place=np.zeros(6, dtype=np.int64),
        depot=np.ones(days, dtype=np.int64),
        travel=TableTravel(np.array([[0.0, 5.0], [5.0, 0.0]])),
    )
    said = what_would_do(problem, promised_alone(problem), nothing(problem))
    assert said.startswith(f"{3 - days} more crew-day")
    assert "would do and no fewer" in said

    def with_more(count):
        rows = np.concatenate([np.arange(days), np.zeros(count, dtype=np.int64)])
        return replace(problem, **{name: getattr(problem, name)[rows] for name in OF_CREW_DAYS})

    assert best_plan(with_more(3 - days)) is not None
    assert best_plan(with_more(2 - days)) is None


def test_a_fund_that_cannot_pay_is_named_with_what_it_must_pay():
    problem = promised(
        3, fund=np.zeros(6, dtype=np.int64), fund_budget_cents=np.array([10]),
        cost_cents=np.full(6, 1_000),
    )  # fmt: skip
    with pytest.raises(PlanError, match=r"must pay 40\.00 for mandatory visits, 0\.10 is given"):
        keep_promises(problem, nothing(problem), None)


def test_a_tree_that_no_crew_day_may_visit_is_said_so():
    skill = np.array([8, 1, 1, 1, 1, 1], dtype=np.uint32)
    problem = promised(1, skill=skill)
    with pytest.raises(PlanError, match="no crew-day can visit mandatory tree OAK-0"):
        keep_promises(problem, nothing(problem), [f"OAK-{k}" for k in range(6)])


def test_many_mandatory_trees_get_what_holds_of_any_plan():
    """A hundred hours' work for two crew-days: too many trees for one model."""
    problem = tiny_problem(
        np.random.default_rng(2),
        trees=60,
        plain=True,
        mandatory=np.ones(60, dtype=np.bool_),
        service_minutes=np.full(60, 100.0),
        cost_cents=np.full(60, 700),
        capacity_minutes=np.full(2, 400.0),
        day_cost_cents=np.full(2, 1_000),
    )
    with pytest.raises(PlanError, match=r"at least 15 crew-days and 440\.00"):
        keep_promises(problem, nothing(problem), None)


def many(seed, days, **changes):
    """Sixty mandatory trees in one neighbourhood, too many for one model."""
    rng = np.random.default_rng(seed)
    usual = {
        "mandatory": np.ones(60, dtype=np.bool_),
        "service_minutes": np.full(60, 20.0),
        "cost_cents": np.full(60, 100),
        "capacity_minutes": np.full(days, 400.0),
        "day_cost_cents": np.full(days, 1_000),
        "depot": np.full(days, 3),
        "place": np.arange(60) % 3,
        "parking_minutes": 4.0,
        "travel": TableTravel(np.full((4, 4), 6.0) - 6.0 * np.eye(4)),
    }
    return tiny_problem(rng, trees=60, crew_days=days, plain=True, **(usual | changes))


def test_crew_days_and_budget_that_do_are_named_for_many_trees_too():
    """1,200 minutes at the trees and at least 22 for the ways: four days of 400, not two."""
    problem = many(1, 2, budget_cents=5_000)
    with pytest.raises(PlanError) as refusal:
        keep_promises(problem, nothing(problem), [f"ELM-{k}" for k in range(60)])
    summary, *trees = refusal.value.faults
    assert summary.what == f"found no room for {len(trees)} of 60 mandatory trees"
    assert (
        "2 more crew-days like those there are and a budget of 100.00 instead of 50.00 would do"
        in (summary.remedy)
    )
    assert all("ELM-" in fault.what and not fault.remedy for fault in trees)
    enough = many(1, 4, budget_cents=10_000)
    assert broken_limits(enough, keep_promises(enough, nothing(enough), None)) == []


def test_many_mandatory_trees_are_packed_close_before_money_is_said_to_lack():
    """Spread over six crew-days, there is money for four: the trees move together."""
    problem = many(2, 6, budget_cents=10_000)
    spread = [np.arange(day, 60, 6) for day in range(6)]
    routes = keep_promises(problem, [*spread[:5], spread[5][:0]], None)
    assert broken_limits(problem, routes) == []
    assert sum(len(route) > 0 for route in routes) == 4


def test_where_shares_of_wards_keep_a_tree_out_they_are_named():
    problem = many(
        3, 4, ward=(np.arange(60) < 6).astype(np.int64), ward_least_share=np.array([0.0, 0.5])
    )
    with pytest.raises(PlanError, match=r"plan\.ward_least_share"):
        keep_promises(problem, nothing(problem), None)
