import numpy as np
import pytest

from forestcycle.schedule.mandatory import make_room, missing_mandatory
from forestcycle.schedule.pack import solve
from forestcycle.schedule.timetable import legs_of
from tests.schedule.tiny import tiny_problem


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
