"""Bounds and plans against enumeration, an independent solver, and each other."""

from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forestcycle.errors import PlanError
from forestcycle.outlook import AS_PLANNED, Budget, CrewKind, CrewTerms, solve_horizon
from forestcycle.outlook.respond import Decision, walk
from forestcycle.outlook.solve import GOOD_GAP
from forestcycle.outlook.trajectory import MEASURE
from tests.outlook.flow_program import least_loss, least_loss_with_whole_crews
from tests.outlook.small_horizon import ALL_SKILLS, CALM, GROUND, small_horizon

SLACK = 1e-6
PAYROLL = CrewTerms(years=2, least_paid=1.0)
few = settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def money(cents: int) -> Budget:
    return Budget("money", cents=(cents,))


def least_with_one_crew_each(horizon, budget, terms):
    """Over all combinations of at most one crew of each kind: these budgets pay no more."""
    return least_loss_with_whole_crews(horizon, budget, 3, terms=terms, most=1)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize(
    ("budget", "terms"),
    [
        (money(25_000), AS_PLANNED),
        (Budget("by year", cents=(30_000, 12_000, 40_000)), AS_PLANNED),
        (Budget("one crew", most_crews=1), AS_PLANNED),
        (money(45_000), PAYROLL),
    ],
    ids=["money", "by year", "crews", "payroll"],
)
def test_agrees_with_an_independent_solver(seed, budget, terms):
    """HiGHS on one program of stocks and flows, with parts of crews allowed."""
    horizon = small_horizon(24, seed=seed)
    plan = solve_horizon(horizon, budget, years=3, beyond=0, terms=terms)
    relaxed = least_loss(horizon, budget, 3, terms=terms)
    whole = terms is PAYROLL or budget.most_crews is not None
    least = least_with_one_crew_each(horizon, budget, terms) if whole else relaxed
    assert plan.bound <= least * (1 + SLACK)
    assert relaxed * (1 - SLACK) <= plan.relaxed_loss <= relaxed * (1 + 2 * GOOD_GAP)
    if terms is AS_PLANNED and budget.most_crews is None:
        assert plan.loss <= relaxed * (1 + 2 * GOOD_GAP)


@pytest.mark.parametrize(
    ("budget", "terms"),
    [(money(45_000), PAYROLL), (Budget("one crew", most_crews=1), AS_PLANNED)],
    ids=["payroll", "crews"],
)
def test_whole_crews_against_every_combination(budget, terms):
    horizon = small_horizon(20, seed=4)
    plan = solve_horizon(horizon, budget, years=3, beyond=0, terms=terms)
    whole = least_with_one_crew_each(horizon, budget, terms)
    assert plan.bound <= whole * (1 + SLACK)
    assert whole * (1 - SLACK) <= plan.loss <= whole * 1.02


@pytest.mark.parametrize("seed", range(3))
def test_no_choice_of_visits_in_a_tiny_city_beats_the_bound(seed):
    """All choices of whole trees over two years, among those that crews and money allow."""
    crews = (CrewKind("All", skill=15, now=1, days=1, minutes_per_day=75.0, day_cost_cents=5_000),)
    horizon = small_horizon(5, seed=seed, chances=CALM, crews=crews, wards=1)
    budget = money(16_000)
    plan = solve_horizon(horizon, budget, years=2, beyond=0)
    losses = [
        float(use.measures[:, :, MEASURE["worth_undone"]].sum())
        for use in _all_courses(horizon)
        if _fits(use, crews[0], budget.cents[0])
    ]
    assert plan.bound <= min(losses) + 1e-6
    assert plan.relaxed_loss <= min(losses) * (1 + GOOD_GAP) + 1e-6


def _all_courses(horizon):
    """Every way to visit or not, cell by cell and then state by state."""
    cells, states = horizon.stock.cells, horizon.stock.states.count
    for first in product([False, True], repeat=len(cells.state)):
        visited = np.array(first) & cells.open
        if (visited != np.array(first)).any():
            continue
        after = np.zeros(states)
        for cell, state in enumerate(cells.state):
            matrix = horizon.visiting if visited[cell] else horizon.waiting
            after += matrix[[state]].toarray()[0]
        reached = np.flatnonzero((after > 0) & horizon.later.open)
        for second in product([False, True], repeat=len(reached)):
            later = np.zeros((states, 1, 4))
            later[reached[list(second)]] = 1.0
            yield walk(horizon, Decision(visited, [later]))


def _fits(use, crew, cents):
    """One crew with every skill: whole crews and parts of days, as the product hires them."""
    minutes = use.minutes.sum(axis=(0, 2))
    days = minutes / crew.minutes_per_day
    paid = days * crew.day_cost_cents + use.cents.sum(axis=0)
    return days[0] <= crew.now * crew.days + 1e-9 and (paid <= cents + 1e-6).all()


@few
@given(seed=st.integers(0, 50), cents=st.integers(20_000, 90_000), more=st.floats(1.05, 2))
def test_more_money_never_gives_a_worse_optimum(seed, cents, more):
    horizon = small_horizon(40, seed=seed)
    less = solve_horizon(horizon, money(cents), years=3, beyond=1)
    richer = solve_horizon(horizon, money(round(cents * more)), years=3, beyond=1, known=less)
    assert richer.loss <= less.loss * (1 + SLACK)
    assert richer.bound <= less.loss * (1 + SLACK)
    assert less.bound <= less.relaxed_loss * (1 + SLACK)


@few
@given(seed=st.integers(0, 50), cents=st.integers(20_000, 90_000))
def test_a_longer_horizon_never_loses_less(seed, cents):
    """A year more only adds worth undone, and the shorter plan's years are a plan of their own."""
    horizon = small_horizon(40, seed=seed)
    short = solve_horizon(horizon, money(cents), years=3, beyond=0)
    long = solve_horizon(horizon, money(cents), years=4, beyond=0)
    assert short.bound <= long.relaxed_loss * (1 + SLACK)
    undone = long.trajectory.city("worth_undone")
    assert undone[:3].sum() >= short.bound * (1 - SLACK)


@few
@given(seed=st.integers(0, 50), cents=st.integers(20_000, 90_000))
def test_what_is_shown_keeps_crews_and_money(seed, cents):
    horizon = small_horizon(40, seed=seed)
    found = solve_horizon(horizon, money(cents), years=5).trajectory
    days = np.array([kind.days for kind in (GROUND, ALL_SKILLS)])
    minutes = np.array([kind.minutes_per_day for kind in (GROUND, ALL_SKILLS)])
    assert (found.cents <= cents * (1 + SLACK) + 1).all()
    assert (found.crew_days <= found.crews * days + 1e-6).all()
    assert (found.city("minutes") <= found.crew_days @ minutes + 1e-6).all()
    assert (found.crews == np.round(found.crews)).all()
    assert np.allclose(found.city("trees"), horizon.stock.trees)
    assert np.allclose(found.city("on_recall") + found.city("overdue"), horizon.stock.trees)


def test_the_worth_of_one_more_crew_day_against_an_independent_solver():
    """A dual value: a day more saves no more than it says, and a day less costs no less.

    HiGHS solves the program anew with a crew-day given, or half a one taken.
    """
    horizon = small_horizon(24, seed=1)
    plan = solve_horizon(horizon, money(25_000), years=3, beyond=0)
    assert plan.day_price.min() > 0
    for place, price in np.ndenumerate(plan.day_price):
        for days in (1.0, -0.5):
            least = least_loss(horizon, plan.budget, 3, terms=AS_PLANNED, more_days={place: days})
            assert least >= plan.bound - days * price - SLACK * plan.loss
            assert (least < plan.loss) == (days > 0)


def test_the_worth_of_more_money_against_an_independent_solver():
    horizon = small_horizon(24, seed=1)
    cents = (25_000,) * 3
    plan = solve_horizon(horizon, Budget("m", cents=cents), years=3, beyond=0)
    assert plan.cent_price.max() > 0
    for year, price in enumerate(plan.cent_price):
        for more in (10_000, -10_000):
            other = [*cents]
            other[year] += more
            least = least_loss(horizon, Budget("o", cents=tuple(other)), 3, terms=AS_PLANNED)
            assert least >= plan.bound - more * price - SLACK * plan.loss


def test_a_known_plan_saves_work_and_changes_little():
    horizon = small_horizon(80, seed=3)
    first = solve_horizon(horizon, money(50_000), years=5)
    fresh = solve_horizon(horizon, money(60_000), years=5)
    helped = solve_horizon(horizon, money(60_000), years=5, known=first)
    assert helped.loss == pytest.approx(fresh.loss, rel=2 * GOOD_GAP)


def test_free_crew_days_without_a_limit_are_refused():
    free = CrewKind("Free", skill=15, now=1, days=5, minutes_per_day=60.0, day_cost_cents=0)
    horizon = small_horizon(10, crews=(free,))
    with pytest.raises(PlanError, match="limits neither money nor crews"):
        solve_horizon(horizon, money(10_000), years=3)
    assert solve_horizon(horizon, Budget("1 crew", most_crews=1), years=3).gap < 0.05


def test_a_skill_that_no_crew_has_does_not_stop_the_other_visits():
    """A town with one ground crew: every kind of tree has some visits that need a climber."""
    horizon = small_horizon(60, seed=1, crews=(GROUND,), wards=4)
    assert (horizon.later.skill_share[horizon.later.open][:, 1:].sum(axis=1) > 0).mean() > 0.5
    plan = solve_horizon(horizon, money(30_000), years=8, beyond=5)
    assert plan.gap <= 2 * GOOD_GAP
    assert plan.day_price.max() < plan.loss
