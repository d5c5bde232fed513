"""The length of the pruning cycle: the published shape, and what it rests on.

Miller and Sylvester 1981 ("An economic evaluation of the pruning cycle", Journal of
Arboriculture 7(4)), known second-hand through Luley and others 2002: short cycles raise the
cost of pruning, long ones lower the value of trees, and an optimum lies between. The shape is
tested, not their five years, which held for one city.
"""

import numpy as np
import pandas as pd
import pytest

from forestcycle.outlook import Budget, solve_horizon
from forestcycle.outlook.interval_study import cheapest_cycle, interval_study, worth_of_a_cent
from tests.outlook.small_horizon import small_horizon


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(300, seed=3)


@pytest.fixture(scope="module")
def study(horizon):
    return interval_study(horizon, worth_per_cent=0.01)


def test_cost_falls_and_what_waits_rises_with_the_cycle(study):
    assert study["cycle_years"].tolist() == list(range(1, 13))
    assert (np.diff(study["cost_cents"]) < 0).all()
    assert (np.diff(study["worth_undone"]) > 0).all()
    assert (np.diff(study["on_recall_share"]) <= 1e-9).all()


def test_one_tree_in_so_many_is_visited_as_soon_as_crowns_have_rested(study):
    """Up to three years most crowns still rest from the last visit; then the cycle decides."""
    visits = study.set_index("cycle_years")["share_visited"]
    for cycle in range(5, 13):
        assert visits[cycle] == pytest.approx(1 / cycle, rel=1e-6)
    assert visits[1] < 1


def test_both_sides_bend_so_that_an_optimum_lies_between(horizon, study):
    """At some rate of exchange each inner cycle's neighbours cost more: the published shape."""
    inside = []
    for rate in np.geomspace(1e-4, 1.0, 25):
        total = study["cost_cents"] + study["worth_undone"] / rate
        best, between = cheapest_cycle(study.assign(total_cents=total))
        inside += [best] if between else []
    assert len(set(inside)) >= 4
    again = interval_study(horizon, worth_per_cent=0.01, cycles=(4, 8))
    pd.testing.assert_frame_equal(
        again, study[study["cycle_years"].isin((4, 8))].reset_index(drop=True)
    )


def test_the_more_waiting_weighs_the_shorter_the_cheapest_cycle(study):
    half, one, twice = (
        cheapest_cycle(study, column)[0]
        for column in (
            "total_at_half_rate_cents",
            "total_cents",
            "total_at_twice_the_rate_cents",
        )
    )
    assert twice <= one <= half


def test_an_end_of_the_range_is_no_optimum_between():
    table = pd.DataFrame({"cycle_years": [1, 2, 3], "total_cents": [3.0, 2.0, 1.0]})
    assert cheapest_cycle(table) == (3, False)
    assert cheapest_cycle(table.assign(total_cents=[2.0, 1.0, 3.0])) == (2, True)


def test_scarce_money_is_worth_more(horizon):
    tight, ample = (
        worth_of_a_cent(solve_horizon(horizon, Budget("b", cents=(cents,)), years=4, beyond=1))
        for cents in (30_000, 60_000)
    )
    assert tight > ample > 0
