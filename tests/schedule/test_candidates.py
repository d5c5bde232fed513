"""Generators propose crew-days; what cannot be worked never enters a plan."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.errors import SettingsError
from forestcycle.schedule.candidates import can_be_worked, installed_generators, proposals
from forestcycle.schedule.choose import Column
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import tiny_problem

SLACK = 0.5
"""Minutes; packing rounds legs up to hundredths."""


def broken_on_the_day(problem, column):
    routes = [[] for _ in range(problem.crew_days)]
    routes[column.crew_day] = list(column.trees)
    return [what for what in broken_limits(problem, routes) if what.startswith("crew-day")]


@settings(deadline=None)  # the first example compiles the search
@given(seed=st.integers(0, 10_000), data=st.data())
def test_agrees_with_a_crew_day_lived_stop_by_stop(seed, data):
    problem = tiny_problem(np.random.default_rng(seed))
    order = data.draw(st.permutations(range(problem.trees)))
    trees = tuple(order[: data.draw(st.integers(1, 3))])
    column = Column(data.draw(st.integers(0, problem.crew_days - 1)), trees)
    if can_be_worked(problem, column):
        assert broken_on_the_day(problem, column) == []
    else:
        shorter = dataclasses.replace(
            problem,
            capacity_minutes=problem.capacity_minutes - SLACK,
            hours_until=problem.hours_until - SLACK,
        )
        assert broken_on_the_day(shorter, column) != []


@pytest.mark.parametrize(
    "column",
    [Column(0, ()), Column(0, (1, 1)), Column(0, (99,)), Column(0, (-1,)), Column(9, (0,))],
)
def test_what_does_not_exist_cannot_be_worked(column):
    problem = tiny_problem(np.random.default_rng(1), plain=True)
    assert not can_be_worked(problem, column)


def test_proposals_are_kept_with_their_worth():
    problem = tiny_problem(
        np.random.default_rng(2), plain=True, capacity_minutes=np.array([900.0, 0.0])
    )

    def everything_everywhere(_problem, **_seed):
        yield Column(0, (0, 1))
        yield Column(1, (0, 1))

    kept = proposals(problem, [everything_everywhere], seed=3)
    assert kept == {Column(0, (0, 1)): pytest.approx(problem.worth[:2].sum())}


def test_unknown_generators_are_reported_together():
    with pytest.raises(SettingsError) as caught:
        installed_generators(["no_such", "nor_this"])
    assert [fault.what for fault in caught.value.faults] == [
        "no candidate generator 'no_such'",
        "no candidate generator 'nor_this'",
    ]
