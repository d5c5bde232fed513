"""A year's step: nobody is lost, waiting brings the visit nearer, a visit opens the next."""

import numpy as np
import pytest

from forestcycle.outlook import Chances
from forestcycle.outlook.faults import (
    GRAVE_1,
    GRAVE_2,
    NO_RECORD,
    PAST,
    SLIGHT_1,
    SLIGHT_2,
    UPKEEP,
)
from tests.outlook.small_horizon import CALM, small_horizon

LARGE, MIDDLE_SIZE = 4, 3


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(200)


@pytest.fixture(scope="module")
def calm():
    return small_horizon(200, chances=CALM)


def where_to(matrix, space, state):
    """Faults and clocks that a state's trees have a year later, with their shares."""
    begin, end = matrix.indptr[state], matrix.indptr[state + 1]
    found = {}
    for to, share in zip(matrix.indices[begin:end], matrix.data[begin:end], strict=True):
        _, _, fault, clock = np.unravel_index(to, space.shape)
        key = (int(fault), int(clock) + space.first_clock)
        found[key] = found.get(key, 0.0) + float(share)
    return found


def state_of(space, fault, clock):
    return int(space.index(*(np.array([k]) for k in (LARGE, MIDDLE_SIZE, fault, clock)))[0])


def test_no_tree_is_lost_or_made(horizon):
    for matrix in (horizon.waiting, horizon.visiting):
        assert np.allclose(matrix.sum(axis=1), 1)
        assert matrix.data.min() >= 0


def test_trees_move_on_by_one_size_at_the_pace_of_growth(horizon):
    space, pace = horizon.stock.states, horizon.stock.pace
    state = state_of(space, UPKEEP, 2)
    row = horizon.waiting[[state]].toarray()[0]
    by_size = row.reshape(space.shape).sum(axis=(0, 2, 3))
    grows = pace.grows[LARGE, MIDDLE_SIZE]
    assert by_size[MIDDLE_SIZE] == pytest.approx(1 - grows)
    assert by_size[MIDDLE_SIZE + 1] == pytest.approx(grows)


def test_waiting_in_calm_years_only_brings_the_visit_nearer(calm):
    space = calm.stock.states
    for fault in (NO_RECORD, UPKEEP, SLIGHT_1, GRAVE_1, PAST):
        assert where_to(calm.waiting, space, state_of(space, fault, 2)) == pytest.approx(
            {(fault, 1): 1.0}
        )
    last = state_of(space, SLIGHT_1, space.first_clock)
    assert where_to(calm.waiting, space, last) == pytest.approx({(SLIGHT_1, space.first_clock): 1})


def test_each_visit_opens_the_next_promise(calm):
    """Work left is due after the shorter span, none left after the longer one."""
    space, pace = calm.stock.states, calm.stock.pace
    left = where_to(calm.visiting, space, state_of(space, SLIGHT_2, 0))
    done = where_to(calm.visiting, space, state_of(space, SLIGHT_1, 0))
    assert {fault for fault, _ in left} == {SLIGHT_1}
    assert {fault for fault, _ in done} == {NO_RECORD}
    mean = lambda found: sum(clock * share for (_, clock), share in found.items())  # noqa: E731
    assert mean(left) == pytest.approx(pace.years_with_work[LARGE, MIDDLE_SIZE] - 1)
    assert mean(done) == pytest.approx(pace.years_with_none[LARGE, MIDDLE_SIZE] - 1)


def test_storms_and_worsening_by_their_rates():
    horizon = small_horizon(200, chances=Chances(growth=0, new_faults=0, storm_damage=0.1))
    space, pace = horizon.stock.states, horizon.stock.pace
    broken = where_to(horizon.waiting, space, state_of(space, NO_RECORD, 3))
    assert broken == pytest.approx({(UPKEEP, 0): 0.1, (NO_RECORD, 2): 0.9})
    worse = where_to(horizon.waiting, space, state_of(space, SLIGHT_1, 1))
    share = pace.worsens[LARGE, MIDDLE_SIZE]
    assert worse == pytest.approx({(SLIGHT_1, 0): 1 - share, (GRAVE_2, 0): share})


def test_faults_are_outgrown_by_their_rate():
    horizon = small_horizon(200, chances=Chances(worsening=0))
    space, pace = horizon.stock.states, horizon.stock.pace
    found = where_to(horizon.waiting, space, state_of(space, GRAVE_1, 1))
    assert found.get((PAST, 0), 0.0) == pytest.approx(pace.outgrows[LARGE, MIDDLE_SIZE])
