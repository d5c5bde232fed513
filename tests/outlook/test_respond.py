import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forestcycle.outlook.respond import Decision, Prices, respond, use_cost, walk
from forestcycle.outlook.trajectory import MEASURE
from tests.outlook.small_horizon import small_horizon

YEARS = 4
HORIZON = small_horizon(80, seed=7)
some = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def prices(seed: int) -> Prices:
    random = np.random.default_rng(seed)
    measure = np.zeros((YEARS, len(MEASURE)))
    measure[:, MEASURE["worth_undone"]] = 1.0
    measure[:, MEASURE["young_on_recall"]] = -random.exponential(1)
    return Prices(random.exponential(1, (YEARS, 4)), random.exponential(1e-4, YEARS), measure)


@some
@given(seed=st.integers(0, 10_000))
def test_the_cost_of_the_best_answer_is_what_walking_it_costs(seed):
    found = respond(HORIZON, prices(seed))
    assert np.allclose(found.cost, use_cost(found.use, prices(seed)))


@some
@given(seed=st.integers(0, 10_000))
def test_no_other_course_is_cheaper_for_any_block(seed):
    random = np.random.default_rng(seed)
    space, wards = HORIZON.stock.states, len(HORIZON.stock.wards)
    first = random.random(len(HORIZON.stock.cells.state))
    later = [random.random((space.count, wards, 4)) for _ in range(YEARS - 1)]
    other = walk(HORIZON, Decision(first, later))
    best = respond(HORIZON, prices(seed)).cost
    assert (best <= use_cost(other, prices(seed)) + 1e-6).all()


def test_walking_counts_every_tree_every_year():
    nobody = Decision(
        np.zeros(len(HORIZON.stock.cells.state)),
        [np.zeros((HORIZON.stock.states.count, len(HORIZON.stock.wards), 4))] * (YEARS - 1),
    )
    use = walk(HORIZON, nobody)
    assert np.allclose(use.measures[:, :, MEASURE["trees"]].sum(axis=0), HORIZON.stock.trees)
    assert use.minutes.sum() == 0
    assert use.measures[:, :, MEASURE["visits"]].sum() == 0
