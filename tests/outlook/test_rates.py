"""Rates of every state: as stated, within 100 % a year, and scaled by the chances alone."""

import numpy as np
import pytest

from forestcycle.errors import SettingsError
from forestcycle.outlook import Chances
from forestcycle.outlook.faults import CORRECTABLE, NO_RECORD, SLIGHT_1
from forestcycle.outlook.rates import check_rates, rates_of_states
from tests.outlook.small_horizon import small_horizon

STOCK = small_horizon(200).stock
RATES = rates_of_states(STOCK, Chances())
PACE, CLOCK = STOCK.pace, STOCK.states.clock


def test_all_rates_have_the_shape_of_the_states():
    for name in ("grows", "outgrows", "worsens", "faults", "built_up", "ripeness", "late_spans"):
        assert getattr(RATES, name).shape == STOCK.states.shape


def test_chances_are_factors_on_the_rates():
    twice = rates_of_states(STOCK, Chances(growth=2, new_faults=3, worsening=1.5))
    assert np.array_equal(twice.grows, 2 * RATES.grows)
    assert twice.outgrows == pytest.approx(2 * RATES.outgrows)
    assert twice.worsens == pytest.approx(1.5 * RATES.worsens)
    assert twice.prior_share == pytest.approx(3 * RATES.prior_share)
    assert np.array_equal(twice.ripeness, RATES.ripeness)


def test_crowns_ripen_until_due_and_no_further():
    assert (np.diff(RATES.ripeness, axis=-1) <= 0).all()
    assert (RATES.ripeness[..., CLOCK <= 0] == 1).all()
    assert RATES.ripeness.min() >= 0


def test_visits_are_late_by_years_since_due_over_the_promised_span():
    """Half a year late on average in the year in which the visit falls due."""
    grace = PACE.grace_years[0]
    late = RATES.late_spans[0, 0, SLIGHT_1]
    assert late[CLOCK == 0] == pytest.approx(0.5 / grace)
    assert late[STOCK.states.first_clock == CLOCK] == pytest.approx(
        (0.5 - STOCK.states.first_clock) / grace
    )
    assert (late[CLOCK > 0] == 0).all()


def test_unrecorded_faults_build_up_with_the_years_since_the_last_visit():
    faults = RATES.faults[:, :, NO_RECORD]
    assert (np.diff(faults, axis=-1) <= 1e-12).all(), (
        "the nearer the visit, the longer ago the last"
    )
    ceiling = PACE.prior_share * PACE.correctable
    assert (faults <= ceiling[:, :, None] + 1e-12).all()
    for fault in range(1, len(CORRECTABLE)):
        assert (RATES.faults[:, :, fault] == CORRECTABLE[fault]).all()
        assert (RATES.built_up[:, :, fault] == 1).all()


@pytest.mark.parametrize(
    ("chances", "name"),
    [
        ({"growth": 60.0}, "growth factor = 60"),
        ({"new_faults": 10.0}, "new faults factor = 10"),
        ({"worsening": 100.0}, "worsening factor = 100"),
    ],
)
def test_rates_over_one_are_refused(chances, name):
    with pytest.raises(SettingsError, match=name):
        check_rates(rates_of_states(STOCK, Chances(**chances)))


def test_all_rates_over_one_are_named_at_once():
    with pytest.raises(SettingsError) as error:
        check_rates(rates_of_states(STOCK, Chances(growth=60, new_faults=10, worsening=100)))
    assert len(error.value.faults) == 3
