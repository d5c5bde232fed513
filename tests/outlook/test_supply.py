"""The revenue in closed form against HiGHS on the crews' rows and columns."""

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from forestcycle.outlook import Budget, CrewTerms
from forestcycle.outlook.supply import SKILL_COUNT, supply
from tests.outlook.small_horizon import ALL_SKILLS, GROUND

YEARS = 5


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("least_paid", [0.0, 0.6, 1.0])
@pytest.mark.parametrize("most_crews", [None, 3])
def test_revenue_is_what_the_best_hiring_earns(seed, least_paid, most_crews):
    random = np.random.default_rng(seed)
    offer = supply(
        (GROUND, ALL_SKILLS),
        Budget("some", cents=(90_000,), most_crews=most_crews),
        years=YEARS,
        terms=CrewTerms(years=2, least_paid=least_paid),
        storm_days=0.1,
    )
    minute = random.exponential(200, (YEARS, SKILL_COUNT))
    cent = random.exponential(1, YEARS)
    rows, most = offer.columns()
    price = np.concatenate([minute.ravel(), np.zeros(rows.shape[0] - minute.size - YEARS), cent])
    free = slice(YEARS * SKILL_COUNT, rows.shape[0] - YEARS)
    for whole in (False, True):
        crews = np.arange(rows.shape[1]) >= rows.shape[1] - offer.most_crews.size
        found = milp(
            rows.T @ price,
            constraints=LinearConstraint(rows[free], -np.inf, offer.limits()[free]),
            bounds=Bounds(0, most),
            integrality=crews & whole,
        )
        earned = float(cent @ offer.cents) - found.fun
        assert offer.revenue(minute, cent) == pytest.approx(earned, rel=1e-6)


def test_given_crews_are_hired_whatever_they_cost():
    offer = supply((GROUND,), Budget("some", cents=(90_000,)), years=3, terms=CrewTerms(2, 1.0))
    crews = np.array([[1.0], [2.0]])
    nothing = np.zeros((3, SKILL_COUNT))
    cost = 2 * 2 * GROUND.days * GROUND.day_cost_cents
    earned = offer.with_crews(crews).revenue(nothing, np.ones(3))
    assert earned == pytest.approx(3 * 90_000 - cost)
