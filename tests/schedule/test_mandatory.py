import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.mandatory import fits, inserted, make_room, missing_mandatory
from forestcycle.schedule.pack import solve
from forestcycle.schedule.timetable import legs_of
from tests.schedule.tiny import odd_problem, tiny_problem


def minutes(problem, day, trees):
    return legs_of(problem, day, trees).sum() + problem.service_minutes[trees].sum()


@pytest.mark.parametrize("seed", range(40))
def test_room_is_made_within_the_day(seed):
    """From an empty plan, whatever mandatory tree is put in keeps minutes, dates and skills."""
    problem = tiny_problem(np.random.default_rng(seed))
    empty = [np.empty(0, dtype=np.int64)] * problem.crew_days
    routes = make_room(problem, empty)
    trees = np.concatenate(routes)
    assert len(np.unique(trees)) == len(trees)
    assert problem.mandatory[trees].all()
    for day, route in enumerate(routes):
        if len(route):
            assert minutes(problem, day, route) <= problem.capacity_minutes[day]
            assert problem.open_on[problem.window[route], problem.date[day]].all()
            assert not (problem.skill[route] & ~problem.crew_skill[day]).any()


def test_nothing_changes_where_nothing_is_missing():
    problem = tiny_problem(np.random.default_rng(3))
    plan = solve(problem, rounds=1, seed=1)
    routes = [plan.tree[plan.crew_day == day] for day in range(problem.crew_days)]
    if not len(missing_mandatory(problem, routes)):
        after = make_room(problem, routes)
        assert all(np.array_equal(a, b) for a, b in zip(routes, after, strict=True))


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1), st.data())
def test_a_tree_is_put_in_the_best_of_all_places(seed, data):
    """Against trying every place in full."""
    problem = odd_problem(np.random.default_rng(seed))
    order = data.draw(st.permutations(range(problem.trees)))
    length = data.draw(st.integers(0, problem.trees - 1))
    tree, route = order[0], np.array(order[1 : 1 + length], dtype=np.int64)
    day = data.draw(st.integers(0, problem.crew_days - 1))
    tries = [np.insert(route, place, tree) for place in range(len(route) + 1)]
    fitting = [longer for longer in tries if fits(problem, day, longer)]
    best = min(fitting, key=lambda longer: legs_of(problem, day, longer).sum(), default=None)
    found = inserted(problem, day, route, tree)
    assert (found is None) == (best is None)
    if best is not None:
        assert found.tolist() == best.tolist()
