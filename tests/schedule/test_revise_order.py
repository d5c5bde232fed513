"""The order of a day after a change: the old one wherever it still fits the shift."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.revise_order import in_old_order
from forestcycle.schedule.revise_standing import Standing
from forestcycle.schedule.timetable import route_minutes
from tests.schedule.tiny import odd_problem


def in_force(problem, order, locked):
    none = np.zeros(problem.trees, dtype=np.bool_)
    nowhere = np.full(problem.trees, -1)
    return Standing(
        day=np.zeros(problem.trees, dtype=np.int64),
        crew=np.zeros(problem.trees, dtype=np.int64),
        order=order,
        done=none,
        from_day=0,
        better_trees=none,
        better_days=np.zeros(problem.crew_days, dtype=np.bool_),
        lock_day=nowhere,
        lock_crew=nowhere,
        lock_order=locked,
    )


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 6), st.booleans(), st.data())
def test_an_order_that_fits_is_never_given_up_for_one_that_does_not(seed, newcomers, locks, data):
    """Minutes may have grown since the old order was made: also where nobody new has come."""
    problem = odd_problem(np.random.default_rng(seed))
    day = data.draw(st.integers(0, problem.crew_days - 1))
    found = np.array(data.draw(st.permutations(range(problem.trees))), dtype=np.int64)
    found = found[: data.draw(st.integers(1, problem.trees))]
    while len(found) and not fits(problem, day, found):
        found = found[:-1]
    tight = problem.capacity_minutes.copy()
    tight[day] = route_minutes(problem, day, found) + 1e-6
    tight = replace(problem, capacity_minutes=tight)
    problem = tight if len(found) and fits(tight, day, found) else problem
    order = np.array(data.draw(st.permutations(range(problem.trees))), dtype=np.int64)
    locked = np.zeros(problem.trees, dtype=np.bool_)
    if locks and len(found):
        locked[found[-1]] = True
    home = np.full(problem.trees, day)
    home[found[: min(newcomers, len(found))]] = -1
    kept = in_old_order(problem, in_force(problem, order, locked), home, day, found)
    if not len(found):
        return
    assert set(kept.tolist()) <= set(found.tolist())
    staying = kept[home[kept] == day]
    in_order = (np.diff(order[staying]) >= 0).all()
    if locked.any():
        assert in_order
        hindered = problem.mandatory[kept] | locked[kept]
        assert fits(problem, day, kept) or hindered[home[kept] == day].all()
    else:
        assert fits(problem, day, kept)
        assert len(kept) == len(found)
