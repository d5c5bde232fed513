"""The reason given for a tree left out is what would happen if it were forced in."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from forestcycle.errors import PlanError
from forestcycle.schedule import solve
from forestcycle.schedule.bound import allocate
from forestcycle.schedule.left_out import LeftOut, left_out_reasons
from forestcycle.schedule.limits import within_limits
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.spare_time import free_minutes
from forestcycle.schedule.territory import may_visit
from tests.schedule.exact import best_plan
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import TableTravel, odd_problem, tiny_problem
from tests.schedule.written_plan import greedy_plan, invented_problem, invented_trees


def plan_of(problem, days):
    """The exact best plan, written as the packer writes one."""
    rows = [(day, k, tree) for day, trees in enumerate(days) for k, tree in enumerate(trees)]
    crew_day, order, tree = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    worth = float(problem.worth[tree].sum())
    return Plan(
        crew_day,
        order,
        tree,
        worth,
        allocate(problem),
        interrupted=False,
        rounds=1,
        seconds=0.0,
        seed=1,
    )


@pytest.mark.parametrize("seed", range(60))
def test_forcing_a_left_out_tree_in_gains_nothing(seed):
    """Make it mandatory: the best plan then is worth no more, or there is none."""
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=7, mandatory=np.zeros(7, dtype=bool))
    best = best_plan(problem)
    plan = plan_of(problem, best.trees)
    left_out = np.setdiff1d(np.arange(7), plan.tree)
    words, texts = left_out_reasons(problem, plan, left_out)
    assert all(words)
    assert all(text.endswith(".") for text in texts)
    for tree, word in zip(left_out, words, strict=True):
        forced = best_plan(replace(problem, mandatory=np.arange(7) == tree))
        assert forced is None or forced.worth <= best.worth + 1e-9
        if word in (LeftOut.PRICE, LeftOut.COST):
            assert plan.bound.surplus[tree] <= 0


def in_order(problem, day, trees):
    """An order in which a crew-day can visit the trees, by trying all."""
    tries = (np.array(order, dtype=np.int64) for order in permutations(trees))
    return tuple(next((o for o in tries if not len(o) or fits(problem, day, o)), ()))


def days_for(problem, days, tree):
    """Crew-days into which a tree can be put, all other stops staying in their order."""
    every = np.arange(problem.crew_days)
    allowed = every[may_visit(problem, every, np.array([tree]))[:, 0]]
    return [
        day
        for day in allowed.tolist()
        if any(
            fits(problem, day, np.insert(np.array(days[day], dtype=np.int64), k, tree))
            for k in range(len(days[day]) + 1)
        )
    ]


def limits_broken_by(problem, days, tree, day):
    """Money or shares that a plan breaks with a tree more on a crew-day; its hours aside."""
    more = [[*route, tree] if day == at else list(route) for at, route in enumerate(days)]
    told = broken_limits(problem, more)
    return {kind for kind in ("budget", "fund", "ward") if any(kind in what for what in told)}


def check_reason(problem, days, tree, reason):
    """Do what the reason says cannot be done."""
    word = LeftOut(reason)
    room = days_for(problem, days, tree)
    broken = [limits_broken_by(problem, days, tree, day) for day in room]
    if word in (LeftOut.FULL, LeftOut.FAR, LeftOut.HOURS):
        assert room == []
    for here, day in zip(broken, room, strict=True):
        if word in (LeftOut.BUDGET, LeftOut.FUND, LeftOut.WARD):
            assert word.name.lower() in here
        if word == LeftOut.DAY:
            assert "budget" in here
            assert not len(days[day])
    if word == LeftOut.SEARCH:
        assert set() in broken


@pytest.mark.parametrize("seed", range(80))
def test_what_a_reason_says_cannot_be_done_cannot(seed):
    """Of plans that leave out the worthiest trees, too: there the search ended, or so it seems."""
    problem = odd_problem(np.random.default_rng(seed), crew_days=2)
    problem = replace(problem, mandatory=np.zeros(7, dtype=bool))
    best = best_plan(problem, promises=False)
    whole = [in_order(problem, day, trees) for day, trees in enumerate(best.trees)]
    for days in (whole, [route[:-1] for route in whole], [whole[0], ()]):
        plan = plan_of(problem, days)
        if not within_limits(problem, np.unique(plan.crew_day), plan.tree):
            continue
        left_out = np.setdiff1d(np.arange(7), plan.tree)
        words, _ = left_out_reasons(problem, plan, left_out)
        for tree, word in zip(left_out.tolist(), words, strict=True):
            check_reason(problem, days, tree, word)


@pytest.mark.parametrize("seed", range(4))
def test_the_packer_gains_nothing_by_a_tree_forced_in(seed):
    """Made mandatory, a left-out tree costs worth, or there is no plan."""
    problem = tiny_problem(
        np.random.default_rng(40 + seed), trees=9, mandatory=np.zeros(9, dtype=bool)
    )
    plan = solve(problem, rounds=2, seed=1)
    left_out = np.setdiff1d(np.arange(9), plan.tree)[:2]
    words, _ = left_out_reasons(problem, plan, left_out)
    for tree, word in zip(left_out, words, strict=True):
        try:
            forced = solve(replace(problem, mandatory=np.arange(9) == tree), rounds=2, seed=1)
        except PlanError:
            continue
        assert tree in forced.tree
        assert forced.worth <= plan.worth + 1e-6, word


@pytest.mark.parametrize("seed", range(5))
def test_money_and_minutes_reasons_are_true(seed):
    trees = invented_trees(160, seed)
    problem = invented_problem(trees, seed)
    plan = greedy_plan(problem)
    left_out = np.setdiff1d(np.arange(160), plan.tree)
    words, _ = left_out_reasons(problem, plan, left_out)
    free = free_minutes(problem, plan)
    assert (free >= -1e-9).all()
    spent = problem.cost_cents[plan.tree].sum()
    spent += problem.day_cost_cents[np.unique(plan.crew_day)].sum()
    for tree, word in zip(left_out, words, strict=True):
        able = (problem.skill[tree] & ~problem.crew_skill) == 0
        is_open = able & problem.open_on[problem.window[tree], problem.date]
        if word == LeftOut.BUDGET:
            assert problem.cost_cents[tree] > problem.budget_cents - spent
        if word == LeftOut.FULL:
            assert problem.service_minutes[tree] > free[is_open].max(initial=0.0)


def test_a_tree_that_would_fit_is_not_said_to_be_kept_out():
    problem = tiny_problem(np.random.default_rng(1), plain=True, trees=4)
    problem = replace(
        problem,
        service_minutes=np.full(4, 1.0),
        capacity_minutes=np.full(2, 400.0),
        parking_minutes=0.0,
    )
    words, texts = left_out_reasons(problem, plan_of(problem, ((0, 1), ())), np.array([2, 3]))
    assert set(words) == {str(LeftOut.SEARCH)}
    assert all("could still be placed" in text for text in texts)


def test_a_further_crew_day_that_cannot_be_paid_is_named():
    """Worked by hand: one day of two is used and full, the other costs more than is left."""
    problem = tiny_problem(
        np.random.default_rng(1),
        trees=2,
        plain=True,
        place=np.zeros(2, dtype=np.int64),
        depot=np.ones(2, dtype=np.int64),
        travel=TableTravel(np.array([[0.0, 5.0], [5.0, 0.0]])),
        service_minutes=np.full(2, 40.0),
        capacity_minutes=np.full(2, 60.0),
        parking_minutes=0.0,
        cost_cents=np.zeros(2, dtype=np.int64),
        day_cost_cents=np.full(2, 1_000),
        budget_cents=1_500,
    )
    plan = replace(plan_of(problem, ((0,), ())), bound=None)
    words, texts = left_out_reasons(problem, plan, np.array([1]))
    assert words == [str(LeftOut.DAY)]
    assert "leaves 5.00 of the budget" in texts[0]


def test_a_ward_that_would_fall_below_its_share_is_named():
    """Worked by hand: half of all minutes for ward 0, which has one tree of two alike."""
    problem = tiny_problem(
        np.random.default_rng(1),
        trees=3,
        plain=True,
        service_minutes=np.full(3, 10.0),
        capacity_minutes=np.full(2, 500.0),
        ward=np.array([0, 1, 1]),
        ward_least_share=np.array([0.5, 0.0]),
    )
    plan = replace(plan_of(problem, ((0, 1), ())), bound=None)
    words, texts = left_out_reasons(problem, plan, np.array([2]))
    assert words == [str(LeftOut.WARD)]
    assert "50% of all minutes would then have 33.3%" in texts[0]


def test_trees_beyond_those_looked_at_are_not_said_to_fit():
    problem = tiny_problem(
        np.random.default_rng(1), plain=True, trees=6, capacity_minutes=np.full(2, 900.0)
    )
    plan = replace(plan_of(problem, ((0,), ())), bound=None)
    words, _ = left_out_reasons(problem, plan, np.arange(1, 6), most_insertions=2)
    assert sorted(words) == [str(LeftOut.UNEXAMINED)] * 3 + [str(LeftOut.SEARCH)] * 2
