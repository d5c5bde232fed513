import numpy as np
import pytest

from forestcycle.errors import SettingsError
from forestcycle.outlook import Chances, load_chances, look_ahead
from forestcycle.outlook.horizon import MEASURE
from forestcycle.outlook.states import GRAVE_1, NO_RECORD, PAST, SLIGHT_1, SLIGHT_2, UPKEEP
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


def test_storms_worsening_and_growth_by_their_rates():
    horizon = small_horizon(200, chances=Chances(growth=0, new_faults=0, storm_damage=0.1))
    space, pace = horizon.stock.states, horizon.stock.pace
    broken = where_to(horizon.waiting, space, state_of(space, NO_RECORD, 3))
    assert broken == pytest.approx({(UPKEEP, 0): 0.1, (NO_RECORD, 2): 0.9})
    worse = where_to(horizon.waiting, space, state_of(space, SLIGHT_1, 1))
    assert worse[SLIGHT_1, 0] == pytest.approx(1 - pace.worsens[LARGE, MIDDLE_SIZE])


def test_worth_rises_until_overdue_no_further_and_a_visit_takes_it(horizon):
    space, effects = horizon.stock.states, horizon.later
    worth = effects.waiting[MEASURE["worth_undone"]].reshape(space.shape)
    assert (np.diff(worth[:, :, SLIGHT_1], axis=-1) <= 1e-9).all()
    assert np.array_equal(
        effects.visited[MEASURE["worth_done"]], effects.waiting[MEASURE["worth_undone"]]
    )
    assert (effects.visited[MEASURE["worth_undone"]] == 0).all()


def test_the_first_year_has_the_trees_own_worth(horizon):
    cells = horizon.stock.cells
    assert cells.trees.sum() == horizon.stock.trees
    assert (horizon.first_year.waiting[MEASURE["worth_undone"]] == cells.worth).all()


def test_published_storm_damage_is_in_force():
    """Luley, Sisinni and Pleninger 2002: 7.6 branch failures per 1,000 trees and year."""
    assert load_chances().storm_damage == 0.0076


@pytest.mark.parametrize(
    ("chances", "name"),
    [
        ({"growth": 60.0}, "growth factor"),
        ({"new_faults": 10.0}, "new faults factor"),
        ({"worsening": 100.0}, "worsening factor"),
    ],
)
def test_rates_over_one_are_refused(horizon, chances, name):
    with pytest.raises(SettingsError, match=name):
        look_ahead(horizon.stock, Chances(**chances))


@pytest.mark.parametrize(
    "chances", [{"storm_damage": 1.2}, {"storm_days": -0.1}, {"minutes": -1}, {"growth": np.nan}]
)
def test_chances_that_cannot_be_are_refused(chances):
    with pytest.raises(SettingsError):
        Chances(**chances)
