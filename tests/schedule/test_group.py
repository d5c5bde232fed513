"""Groups lose no crew-day and shut no window."""

import numpy as np
import pytest

from forestcycle.schedule.group import crew_day_groups
from tests.schedule.tiny import tiny_problem


@pytest.mark.parametrize("most", [1, 2, 4, 100])
@pytest.mark.parametrize("seed", range(10))
def test_every_crew_day_finds_its_own_kind_and_windows(seed, most):
    rng = np.random.default_rng(seed)
    dates = 30
    open_on = np.arange(dates) >= rng.integers(0, dates, (6, 1))
    problem = tiny_problem(
        rng,
        crew_days=40,
        open_on=open_on,
        window=rng.integers(0, 6, 6),
        date=rng.integers(0, dates, 40),
    )
    groups = crew_day_groups(problem, most=most)
    of_day = groups.of_crew_day
    assert groups.days.sum() == problem.crew_days
    np.testing.assert_array_equal(np.bincount(of_day, minlength=groups.count), groups.days)
    for ours, theirs in [
        (groups.depot, problem.depot),
        (groups.skill, problem.crew_skill),
        (groups.capacity_minutes, problem.capacity_minutes),
        (groups.start_minute, problem.start_minute),
        (groups.break_minutes, problem.break_minutes),
        (groups.day_cost_cents, problem.day_cost_cents),
    ]:
        np.testing.assert_array_equal(ours[of_day], theirs)
    used = np.unique(problem.window)
    really_open = problem.open_on[used][:, problem.date]
    assert not (really_open & ~groups.open_to[used][:, of_day]).any()
    if groups.exact:
        np.testing.assert_array_equal(groups.open_to[used][:, of_day], really_open)


def test_like_dates_are_merged_without_loss():
    rng = np.random.default_rng(0)
    dates = 200
    open_on = np.zeros((3, dates), dtype=bool)
    open_on[0], open_on[1, 100:], open_on[2, :50] = True, True, True
    problem = tiny_problem(
        rng,
        plain=True,
        crew_days=dates,
        open_on=open_on,
        window=np.array([0, 1, 2, 0, 1, 2]),
        date=np.arange(dates),
        depot=np.full(dates, 6),
        capacity_minutes=np.full(dates, 200.0),
        crew_skill=np.full(dates, 3, dtype=np.uint32),
        travel=tiny_problem(rng, plain=True).travel,
    )
    groups = crew_day_groups(problem)
    assert groups.exact
    assert sorted(groups.days.tolist()) == [50, 50, 100]
