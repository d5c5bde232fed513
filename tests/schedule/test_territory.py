"""Compact parts, groups of crew-days, and the hours that packing reckons with."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.cluster import ClusterSearch
from forestcycle.schedule.territory import (
    Territory,
    ground_of,
    group_crew_days,
    may_visit,
    split_evenly,
    territories,
)
from tests.schedule.recheck import broken_limits
from tests.schedule.tiny import tiny_problem


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 200), st.integers(1, 30))
def test_every_point_gets_a_part(seed, count, parts):
    """And no part carries more than its share and one heaviest point for every cut."""
    rng = np.random.default_rng(seed)
    points, weights = rng.uniform(0, 100, (count, 2)), rng.uniform(1, 10, count)
    part = split_evenly(points, weights, parts)
    assert len(part) == count
    if not count:
        return
    assert part.min() >= 0
    assert part.max() < parts
    loads = np.bincount(part, weights=weights, minlength=parts)
    cuts = np.ceil(np.log2(parts)) if parts > 1 else 0
    assert loads.max() <= weights.sum() / parts + (cuts + 1) * weights.max()


def test_points_of_one_spot_can_be_split():
    part = split_evenly(np.zeros((12, 2)), np.ones(12), 4)
    assert np.bincount(part).tolist() == [3, 3, 3, 3]


def test_parts_are_compact():
    """Four clumps in a row, four parts: each clump is one part."""
    clump = np.repeat(np.arange(4), 10)
    points = np.column_stack([clump * 100.0, np.tile(np.arange(10.0), 4)])
    part = split_evenly(points, np.ones(40), 4)
    assert all(len(set(part[clump == c])) == 1 for c in range(4))
    assert len(set(part)) == 4


@given(st.integers(0, 2**32 - 1), st.integers(1, 60), st.integers(1, 8))
def test_every_crew_day_is_in_one_group(seed, days, size):
    rng = np.random.default_rng(seed)
    groups = group_crew_days(rng.uniform(0, 1e4, (days, 2)), size, rng)
    assert sorted(np.concatenate(groups).tolist()) == list(range(days))
    assert all(len(group) for group in groups)


def test_groups_differ_from_call_to_call():
    rng = np.random.default_rng(1)
    centres = rng.uniform(0, 1e4, (40, 2))
    first, second = (
        {frozenset(group.tolist()) for group in group_crew_days(centres, 4, rng)} for _ in range(2)
    )
    assert first != second


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_territories_hold_what_their_crew_days_hold(seed):
    """Held trees stay, no tree is in two territories, free ones are worth something."""
    rng = np.random.default_rng(seed)
    problem = tiny_problem(rng, trees=30, crew_days=5)
    day_of_tree = rng.integers(-1, 5, 30)
    worth, centres = rng.uniform(-5, 10, 30), rng.uniform(0, 60, (5, 2))
    groups = [np.array([0, 3]), np.array([1, 2, 4])]
    found = territories(problem, groups, day_of_tree, centres, worth)
    every = np.concatenate([area.trees for area in found])
    assert len(np.unique(every)) == len(every)
    for area, group in zip(found, groups, strict=True):
        np.testing.assert_array_equal(area.crew_days, group)
        held = np.flatnonzero(np.isin(day_of_tree, group))
        assert np.isin(held, area.trees).all()
        assert np.isin(day_of_tree[area.trees], [-1, *group]).all()
        free = area.trees[day_of_tree[area.trees] < 0]
        assert (worth[free] > 0).all()


def test_crew_days_without_trees_look_around_their_centres():
    """From nothing at all, every tree is offered to the nearer of two crew-days."""
    problem = tiny_problem(np.random.default_rng(6), trees=20, crew_days=2, plain=True)
    where = np.column_stack([problem.x, problem.y])
    centres = where[[np.argmin(problem.x), np.argmax(problem.x)]]
    groups = [np.array([0]), np.array([1])]
    found = territories(problem, groups, np.full(20, -1), centres, problem.worth)
    nearer = np.hypot(*(where[:, None] - centres).transpose(2, 0, 1)).argmin(axis=1)
    for number, area in enumerate(found):
        assert sorted(area.trees) == np.flatnonzero(nearer == number).tolist()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_may_visit_asks_for_the_date_and_every_skill(seed):
    problem = tiny_problem(np.random.default_rng(seed), trees=12, crew_days=4)
    allowed = may_visit(problem, np.arange(4), np.arange(12))
    for day in range(4):
        for tree in range(12):
            is_open = problem.open_on[problem.window[tree], problem.date[day]]
            able = int(problem.skill[tree]) & ~int(problem.crew_skill[day]) == 0
            assert allowed[day, tree] == (is_open and able)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_what_fits_the_rounded_ground_fits_exactly(seed):
    """Dates, skills, hours, break and minutes of every route gone through by the clock."""
    rng = np.random.default_rng(seed)
    hours = np.sort(rng.uniform(400, 800, (14, 2)), axis=1)
    timed = {"hours_from": hours[:, 0], "hours_until": hours[:, 1] + 60} if seed % 2 else {}
    problem = tiny_problem(rng, trees=14, crew_days=3, **timed)
    area = Territory(np.arange(3), np.arange(14))
    search = ClusterSearch(ground_of(problem, area, problem.worth[area.trees], np.zeros(3)), seed=1)
    search.run(150, hot=1.0, cold=0.05)
    for found in (*search.routes, *search.pool):
        routes = [[], [], []]
        routes[found.crew_day] = list(found.stops)
        broken = broken_limits(problem, routes)
        assert [what for what in broken if what.startswith(("crew-day", "tree"))] == []


def test_minutes_are_rounded_up_to_the_hundredth():
    problem = tiny_problem(np.random.default_rng(2), trees=6, crew_days=2, plain=True)
    area = Territory(np.arange(2), np.arange(6))
    ground = ground_of(problem, area, problem.worth[area.trees], np.zeros(2))
    exact = problem.travel.minutes(problem.place, problem.place)
    moved = problem.place[:, None] != problem.place[None, :]
    excess = ground.leg - np.where(moved, exact + problem.parking_minutes, 0.0)
    assert excess.min() >= -1e-9
    assert excess.max() <= 0.01
    assert ground.leg.diagonal() == pytest.approx(0)
