import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from forestcycle.outlook import POLICIES, Budget, simulate_policy, solve_horizon
from forestcycle.outlook.policies import Candidates, fill_in_order
from tests.outlook.small_horizon import small_horizon

NESTED = np.array([[1, 1], [0, 1], [0, 1], [0, 1]], dtype=bool)
CROSSED = np.array([[1, 0], [1, 1], [0, 1], [0, 1]], dtype=bool)


def candidates(seed: int, count: int = 12) -> Candidates:
    random = np.random.default_rng(seed)
    zeros = np.zeros(count, dtype=np.int64)
    return Candidates(
        ward=zeros,
        skill=random.integers(0, 4, count),
        age_class=zeros,
        worth=np.ones(count),
        minutes=random.uniform(5, 30, count),
        cents=np.zeros(count),
        trees=random.uniform(0.5, 4, count),
        wards=1,
        turn=0,
    )


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), skilled=st.sampled_from([NESTED, CROSSED]))
def test_the_visits_can_be_given_to_crews_and_no_more_fit(seed, skilled):
    """Feasible as a transport problem for HiGHS; whoever is left out finds no crew with time."""
    offer = candidates(seed)
    minutes = np.random.default_rng(seed + 1).uniform(20, 300, 2)
    share = fill_in_order(offer, np.arange(12), minutes, skilled)
    asks = offer.trees * offer.minutes
    demand = np.bincount(offer.skill, weights=asks * share, minlength=4)
    assert _most_short(demand, minutes, skilled) <= 1e-6
    for left in np.flatnonzero(share < 1 - 1e-9):
        more = demand + 0.01 * asks[left] * (np.arange(4) == offer.skill[left])
        assert _most_short(more, minutes, skilled) > 0


def _most_short(demand, minutes, skilled):
    """Minutes of demand that no crew can take over."""
    pairs = [(s, k) for s in range(4) for k in range(2) if skilled[s, k]]
    lent = len(pairs)
    cost = np.concatenate([np.zeros(lent), np.ones(4)])
    need = np.zeros((4, lent + 4))
    time = np.zeros((2, lent + 4))
    for column, (s, k) in enumerate(pairs):
        need[s, column], time[k, column] = 1, 1
    need[np.arange(4), lent + np.arange(4)] = 1
    return linprog(cost, A_ub=time, b_ub=minutes, A_eq=need, b_eq=demand).fun


@pytest.mark.parametrize("policy", POLICIES)
def test_no_habit_does_better_than_the_bound_with_the_same_money(policy):
    horizon = small_horizon(120, seed=5)
    budget = Budget("some", cents=(60_000,))
    plan = solve_horizon(horizon, budget, years=4, beyond=0)
    best = plan.trajectory
    found = simulate_policy(
        horizon, policy, crew_days=best.crew_days, cents=budget.of_years(4), crews=best.crews
    )
    assert (found.cents <= 60_000 + 1e-3).all()
    assert found.city("worth_undone").sum() >= plan.bound * (1 - 1e-6)
    assert np.allclose(found.city("trees"), horizon.stock.trees)


def test_young_first_leaves_no_young_tree_for_an_old_one():
    horizon = small_horizon(300, seed=2)
    plan = solve_horizon(horizon, Budget("some", cents=(40_000,)), years=2, beyond=0)
    best = plan.trajectory
    run = lambda policy: simulate_policy(  # noqa: E731
        horizon,
        policy,
        crew_days=best.crew_days,
        cents=np.full(2, 40_000.0),
        crews=best.crews,
    ).share("young_on_recall", "young")
    assert run("young first")[0] >= run("fixed rotation")[0]
