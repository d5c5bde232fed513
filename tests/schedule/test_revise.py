"""Least change: nothing moves for nothing, locks hold, and small cities are solved to the best."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.errors import PlanError
from forestcycle.schedule.revise import revise
from forestcycle.schedule.revise_search import Limits
from forestcycle.schedule.revise_standing import narrowed
from forestcycle.schedule.revise_worth import Judge, MovePrices
from tests.schedule.revise_cases import (
    NO_MONEY,
    PRICES,
    as_lists,
    best_value,
    check_routes,
    money_of,
    planned_city,
    revised,
    standing_of,
    trees_with_a_gap,
    without_day,
)

SEEDS = st.integers(0, 10_000)
TRIED = settings(max_examples=20, deadline=None)


@TRIED
@given(SEEDS)
def test_nothing_changed_nothing_moves(seed):
    found = planned_city(seed)
    if found is None:
        return
    problem, plan = found
    answer = revised(problem, standing_of(problem, plan), money_of(plan))
    assert [route.tolist() for route in answer.routes] == as_lists(plan, problem.crew_days)
    assert answer.days_repacked == 0
    assert answer.value == pytest.approx(plan.worth)


@TRIED
@given(SEEDS, st.integers(0, 3), st.floats(0, 8), st.floats(0, 3))
def test_a_lost_day_costs_no_more_than_dropping_its_visits(seed, lost, day_price, crew_price):
    found = planned_city(seed)
    if found is None:
        return
    problem, plan = found
    now, standing = without_day(problem, standing_of(problem, plan), lost)
    prices = MovePrices(day_price, crew_price)
    try:
        answer = revised(now, standing, money_of(plan), prices)
    except PlanError:
        assert problem.mandatory.any()
        return
    check_routes(now, standing, answer.routes)
    kept = np.concatenate(answer.dropped_only)
    if now.mandatory.sum() == now.mandatory[kept].sum():
        assert answer.value >= answer.value_dropped_only - 1e-9


@TRIED
@given(SEEDS, st.data())
def test_locks_are_held(seed, data):
    found = planned_city(seed, mandatory=np.zeros(8, dtype=np.bool_))
    if found is None or not len(found[1].tree):
        return
    problem, plan = found
    locked = data.draw(st.lists(st.sampled_from(plan.tree.tolist()), max_size=3, unique=True))
    standing = standing_of(problem, plan)
    lock_day, lock_crew = standing.lock_day.copy(), standing.lock_crew.copy()
    for tree in locked:
        if data.draw(st.booleans()):
            lock_day[tree] = standing.day[tree]
        else:
            lock_crew[tree] = standing.crew[tree]
    standing = replace(standing, lock_day=lock_day, lock_crew=lock_crew)
    now, standing = without_day(problem, standing, data.draw(st.integers(0, 3)))
    try:
        answer = revised(now, standing, money_of(plan))
    except PlanError as error:
        refused = str(error)
    else:
        refused = ""
    if refused:
        assert "locked tree" in refused
        return
    check_routes(now, standing, answer.routes)
    for day, route in enumerate(answer.routes):
        for tree in route.tolist():
            assert lock_day[tree] in (-1, now.date[day])
            assert lock_crew[tree] in (-1, now.crew[day])


@TRIED
@given(SEEDS, st.data())
def test_a_locked_order_keeps_what_stands_before_and_after(seed, data):
    found = planned_city(seed, mandatory=np.zeros(8, dtype=np.bool_), plain=True)
    if found is None or not len(found[1].tree):
        return
    problem, plan = found
    tree = data.draw(st.sampled_from(plan.tree.tolist()))
    lock_order = np.arange(problem.trees) == tree
    standing = standing_of(problem, plan, lock_order=lock_order)
    now, standing = without_day(problem, standing, data.draw(st.integers(0, 3)))
    answer = revised(now, standing)
    home = standing.home(now)
    for day, route in enumerate(answer.routes):
        if home[tree] != day or tree not in route:
            continue
        at = route.tolist().index(tree)
        assert (home[route[:at]] == day).all()
        assert (standing.order[route[:at]] < standing.order[tree]).all()
        later = route[at:][home[route[at:]] == day]
        assert (standing.order[later] >= standing.order[tree]).all()


def test_gaps_that_the_clock_left_are_filled_at_the_end(monkeypatch):
    """As on a machine so busy that nothing was placed before the search, nor by it."""
    monkeypatch.setattr("forestcycle.schedule.revise.SHARE_BEFORE_THE_SEARCH", 0.0)
    brought = 0
    for seed in range(12):
        problem, plan = planned_city(seed, plain=True)
        longer = replace(problem, capacity_minutes=problem.capacity_minutes * 1.3)
        now, standing = without_day(longer, standing_of(problem, plan), 1)
        answer = revise(now, standing, PRICES, NO_MONEY, Limits(2.0, rounds=0))
        check_routes(now, standing, answer.routes)
        out = np.setdiff1d(np.flatnonzero(standing.promised), np.concatenate(answer.routes))
        judge = Judge(now, standing, PRICES)
        assert trees_with_a_gap(narrowed(now, standing), judge, out, answer.routes) == []
        brought += sum(map(len, answer.routes)) - sum(map(len, answer.dropped_only))
    assert brought > 0


def test_a_lone_visit_gets_an_unused_crew_day(monkeypatch):
    """Nothing else is planned near it, so that no search looks at that crew-day for it."""
    monkeypatch.setattr("forestcycle.schedule.revise.SHARE_BEFORE_THE_SEARCH", 0.0)
    problem, plan = planned_city(3, plain=True, trees=1, crew_days=6)
    now, standing = without_day(problem, standing_of(problem, plan), int(plan.crew_day[0]))
    for cents, visits in ((None, 1), (10, 1), (9, 0)):
        money = replace(
            now, day_cost_cents=np.full(5, 7), cost_cents=np.full(1, 3), budget_cents=cents
        )
        answer = revise(money, standing, PRICES, NO_MONEY, Limits(2.0, rounds=0))
        check_routes(money, standing, answer.routes)
        assert sum(map(len, answer.routes)) == visits


@pytest.mark.parametrize("lost", [0, 1, 2, 3])
@pytest.mark.parametrize("seed", range(8))
def test_small_cities_are_revised_to_the_best(seed, lost):
    problem, plan = planned_city(seed, plain=True, trees=7)
    now, standing = without_day(problem, standing_of(problem, plan), lost)
    standing = replace(standing, better_days=np.ones(now.crew_days, dtype=np.bool_))
    assert revised(now, standing).value == pytest.approx(best_value(now, standing))


def test_done_visits_stay_and_the_past_takes_no_others():
    problem, plan = planned_city(3, plain=True)
    first = plan.tree[problem.date[plan.crew_day] == 0]
    done = np.isin(np.arange(problem.trees), first[::2])
    standing = standing_of(problem, plan, done=done, from_day=1)
    answer = revised(problem, standing)
    past = [route for day, route in enumerate(answer.routes) if problem.date[day] < 1]
    assert sorted(np.concatenate(past).tolist()) == sorted(first[::2].tolist())


def test_a_dear_move_is_not_made_and_a_free_one_is():
    problem, plan = planned_city(5, plain=True)
    now, standing = without_day(problem, standing_of(problem, plan), 0)
    standing = replace(standing, better_days=np.ones(now.crew_days, dtype=np.bool_))
    free = revised(now, standing, prices=MovePrices(0.0, 0.0))
    dear = revised(now, standing, prices=MovePrices(1e6, 1e6))
    home = standing.home(now)
    for day, route in enumerate(dear.routes):
        promised = route[standing.promised[route] & (home[route] >= 0)]
        assert (home[promised] == day).all()
    assert free.value >= best_value(now, standing, MovePrices(0.0, 0.0)) - 1e-9


def test_spending_more_than_is_left_is_refused():
    problem, plan = planned_city(3, plain=True, cost_cents=np.full(8, 100))
    done = np.zeros(8, dtype=np.bool_)
    done[plan.tree] = True
    standing = standing_of(problem, plan, done=done, from_day=1)
    spent = 100 * len(plan.tree)
    with pytest.raises(PlanError, match=r"have cost 0\.50 more than there is"):
        revised(replace(problem, budget_cents=spent - 50), standing)
    of_one_fund = replace(
        problem, fund=np.zeros(8, dtype=np.int64), fund_budget_cents=np.array([spent - 50])
    )
    with pytest.raises(PlanError, match=r"budget\.fund_cents\.parks: .* 0\.50 more"):
        revise(of_one_fund, standing, PRICES, NO_MONEY, Limits(None, 1), funds=["parks"])


def test_the_price_of_moves_counts_every_broken_promise():
    problem, plan = planned_city(5, plain=True)
    now, standing = without_day(problem, standing_of(problem, plan), 0)
    answer = revised(now, standing)
    worth = float(now.worth[np.concatenate(answer.routes)].sum())
    paid = 0.0
    for tree in plan.tree.tolist():
        days = [day for day, route in enumerate(answer.routes) if tree in route]
        if not days or now.date[days[0]] != standing.day[tree]:
            paid += PRICES.other_day
        if days and now.crew[days[0]] != standing.crew[tree]:
            paid += PRICES.other_crew
    assert answer.value == pytest.approx(worth - paid)
