"""Crew-days and money that are said to be enough for all mandatory trees are enough."""

from dataclasses import replace

import numpy as np
import pytest

from forestcycle.schedule.mandatory import make_room
from forestcycle.schedule.promised_alone import enough_days
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import tiny_problem

TREES = 40


def nothing(problem):
    return [np.empty(0, dtype=np.int64)] * problem.crew_days


def crowded(seed, **changes):
    """Forty trees, most of them mandatory, and crew-days for a dozen; dates, skills, hours."""
    rng = np.random.default_rng(seed)
    usual = {
        "mandatory": rng.random(TREES) < 0.8,
        "ward": np.full(TREES, -1),
        "ward_least_share": np.zeros(0),
        "day_cost_cents": rng.integers(100, 900, 3),
    }
    return tiny_problem(rng, trees=TREES, crew_days=3, **(usual | changes))


@pytest.mark.parametrize("seed", range(40))
def test_all_mandatory_trees_have_room_on_the_crew_days_said_to_be_enough(seed):
    problem = crowded(seed)
    enough = enough_days(problem, make_room(problem, nothing(problem)))
    if enough is None:
        return
    assert enough.problem.crew_days == problem.crew_days + enough.extra
    open_handed = replace(
        enough.problem, budget_cents=enough.cents, fund_budget_cents=np.full(2, 10**9)
    )
    assert broken_limits(open_handed, enough.routes) == []
    assert np.array_equal(np.sort(np.concatenate(enough.routes)), np.flatnonzero(problem.mandatory))


def test_no_second_crew_where_there_is_time():
    problem = crowded(3, mandatory=np.arange(TREES) < 2, skill=np.ones(TREES, dtype=np.uint32))
    problem = replace(problem, capacity_minutes=np.full(3, 400.0), open_on=problem.open_on | True)
    enough = enough_days(problem, nothing(problem))
    assert enough.extra == 0


def test_a_tree_longer_than_every_crew_day_has_room_on_none():
    problem = crowded(3, mandatory=np.arange(TREES) < 2)
    longer = np.where(np.arange(TREES) == 1, 1e4, problem.service_minutes)
    assert enough_days(replace(problem, service_minutes=longer), nothing(problem)) is None
