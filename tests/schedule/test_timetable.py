"""Clock times of a plan, worked by hand and gone through minute by minute."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.plan import Plan
from forestcycle.schedule.timetable import timetable
from tests.schedule.tiny import TableTravel, tiny_problem


def plan_of(*routes):
    return Plan(
        crew_day=np.repeat(np.arange(len(routes)), [len(route) for route in routes]),
        order=np.concatenate([np.arange(len(route)) for route in routes]),
        tree=np.concatenate([np.asarray(route, dtype=np.int64) for route in routes]),
        worth=0.0,
        bound=None,
        interrupted=False,
        rounds=0,
        seconds=0.0,
        seed=0,
    )


def by_hand(**changes):
    """Three trees, two of them at one place; depot at node 2; every leg takes 10 minutes."""
    table = 10.0 * (1 - np.eye(3))
    fields = {
        "place": np.array([0, 0, 1]),
        "depot": np.array([2, 2]),
        "service_minutes": np.array([30.0, 20.0, 40.0]),
        "start_minute": np.array([420.0, 480.0]),
        "break_after": np.array([60.0, 1000.0]),
        "break_minutes": np.array([30.0, 30.0]),
        "parking_minutes": 5.0,
        "travel": TableTravel(table),
    }
    return tiny_problem(
        np.random.default_rng(0), trees=3, crew_days=2, plain=True, **(fields | changes)
    )


def test_a_day_worked_by_hand():
    """Leaves at 7:00; 7:15 to 7:45; same place, 7:45 to 8:05; break 8:05; 8:50 to 9:30."""
    times = timetable(by_hand(), plan_of([0, 1, 2], []))
    assert times.arrive.tolist() == [435, 465, 530]
    assert times.leave.tolist() == [465, 485, 570]
    assert times.travel_minutes.tolist() == [15, 0, 15]
    assert times.home_minutes.tolist() == [10, 0]


def test_a_day_without_a_break_due():
    times = timetable(by_hand(), plan_of([], [2, 0]))
    assert times.arrive.tolist() == [495, 550]
    assert times.home_minutes.tolist() == [0, 10]


def test_a_crew_waits_for_a_tree_s_hours():
    """Tree 2 opens at 8:00, which is before the break is due: wait, then work."""
    problem = by_hand(hours_from=np.array([0.0, 0.0, 479.0]))
    times = timetable(problem, plan_of([2, 0], []))
    assert times.arrive.tolist() == [479, 479 + 40 + 15 + 30]


def test_the_break_is_taken_while_waiting():
    """Tree 2 opens at 8:40; the break, due at 8:00, ends at 8:30 in the wait."""
    problem = by_hand(hours_from=np.array([0.0, 0.0, 520.0]))
    times = timetable(problem, plan_of([2, 0], []))
    assert times.arrive.tolist() == [520, 520 + 40 + 15]


def test_an_empty_plan_has_no_times():
    times = timetable(by_hand(), plan_of([], []))
    assert len(times.arrive) == len(times.leave) == 0
    assert times.home_minutes.tolist() == [0, 0]


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_times_add_up(seed):
    """Stops follow each other, hours are kept, and without waiting the day's minutes add up."""
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=6, crew_days=2)
    mixed = rng.permutation(6)
    routes = [mixed[:3], mixed[3:]]
    plan = plan_of(*routes)
    times = timetable(problem, plan)
    assert (times.arrive >= problem.hours_from[plan.tree] - 1e-9).all()
    assert times.leave - times.arrive == pytest.approx(problem.service_minutes[plan.tree])
    for day, route in enumerate(routes):
        mine = plan.crew_day == day
        arrive, leave, travel = times.arrive[mine], times.leave[mine], times.travel_minutes[mine]
        assert arrive[0] >= problem.start_minute[day] + travel[0] - 1e-9
        assert (arrive[1:] >= leave[:-1] + travel[1:] - 1e-9).all()
        if not problem.hours_from[route].any():
            worked = travel.sum() + problem.service_minutes[route].sum()
            rest = leave[-1] - problem.start_minute[day] - worked
            assert rest == pytest.approx(0) or rest == pytest.approx(problem.break_minutes[day])
