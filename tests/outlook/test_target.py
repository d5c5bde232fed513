import pytest

from forestcycle.errors import PlanError
from forestcycle.outlook import Budget, solve_horizon
from forestcycle.outlook.target import HALVINGS, Target, least_budget
from tests.outlook.small_horizon import small_horizon

MOST = 90_000


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(60, seed=5)


def test_the_least_budget_reaches_the_target_and_less_does_not_ask_for_more(horizon):
    modest = least_budget(
        horizon, [Target("on recall", 0.5, 3)], most_cents=MOST, years=3, beyond=0
    )
    bold = least_budget(horizon, [Target("on recall", 0.8, 3)], most_cents=MOST, years=3, beyond=0)
    assert bold.trajectory.share("on_recall", "trees")[-1] >= 0.8
    assert modest.budget.cents <= bold.budget.cents <= (MOST,)


def test_the_step_below_the_least_budget_misses_the_target(horizon):
    target = Target("on recall", 0.8, 3)
    found = least_budget(horizon, [target], most_cents=MOST, years=3, beyond=0)
    (cents,) = found.budget.cents
    step = -(-MOST // 2**HALVINGS)
    less = solve_horizon(horizon, Budget("less", cents=(cents - step,)), years=3, beyond=0)
    assert target.met(found.trajectory)
    assert not target.met(less.trajectory)


def test_a_target_that_no_money_reaches_is_named_with_what_it_clashes_with(horizon):
    wanted = Target("young on recall", 1.0, 1)
    with pytest.raises(PlanError, match=r"young on recall 100% by year 1' clashes with 'at most"):
        least_budget(horizon, [wanted], most_cents=1_000, years=3, beyond=0)


def test_a_target_beyond_the_horizon_is_refused(horizon):
    with pytest.raises(PlanError, match=r"by year 9' clashes with 'years 3'"):
        least_budget(horizon, [Target("on recall", 0.5, 9)], most_cents=MOST, years=3)
