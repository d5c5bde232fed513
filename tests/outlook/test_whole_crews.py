"""The bound that knows whole crews, against every combination of crews solved by HiGHS."""

import pytest

from forestcycle.outlook import Budget, CrewTerms, solve_horizon
from tests.outlook.flow_program import least_loss_with_whole_crews
from tests.outlook.small_horizon import small_horizon

SLACK, CLOSE = 1e-6, 0.01


@pytest.mark.parametrize(
    ("seed", "cents", "least_paid", "most"),
    [(0, 45_000, 1.0, 1), (1, 45_000, 1.0, 1), (2, 55_000, 1.0, 1), (1, 50_000, 0.7, 2)],
)
def test_the_bound_of_whole_crews_holds_and_is_close(seed, cents, least_paid, most):
    horizon = small_horizon(16, seed=seed)
    budget, terms = Budget("money", cents=(cents,)), CrewTerms(years=2, least_paid=least_paid)
    plan = solve_horizon(horizon, budget, years=3, beyond=0, terms=terms)
    least = least_loss_with_whole_crews(horizon, budget, 3, terms=terms, most=most)
    assert plan.bound <= least * (1 + SLACK)
    assert least * (1 - SLACK) <= plan.loss
    assert plan.gap <= CLOSE


def test_parts_of_crews_would_promise_far_more():
    """What the relaxation alone leaves open: the gap that this bound closes."""
    horizon = small_horizon(60, seed=1)
    terms = CrewTerms(years=3, least_paid=1.0)
    plan = solve_horizon(horizon, Budget("m", cents=(45_000,)), years=6, beyond=0, terms=terms)
    assert plan.relaxed_loss < 0.85 * plan.loss
    assert plan.gap < CLOSE


@pytest.mark.parametrize(("seed", "cents"), [(0, 70_000), (7, 70_000), (2, 65_000)])
def test_money_for_a_second_crew_or_just_short_of_it_leaves_no_gap(seed, cents):
    """Prices met with no crew of a kind are huge: their cuts must not drown the others."""
    horizon = small_horizon(60, seed=seed)
    terms = CrewTerms(years=3, least_paid=1.0)
    plan = solve_horizon(horizon, Budget("m", cents=(cents,)), years=6, beyond=0, terms=terms)
    assert plan.gap < 0.002
