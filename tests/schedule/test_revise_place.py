"""Gaps are filled before anything is repacked; what they are is told by trying every place."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.schedule.revise_place import placed
from forestcycle.schedule.revise_search import Limits, Scene
from forestcycle.schedule.revise_standing import narrowed
from forestcycle.schedule.revise_start import asking, still_possible
from forestcycle.schedule.revise_worth import Judge
from tests.schedule.revise_cases import (
    NO_MONEY,
    PRICES,
    check_routes,
    planned_city,
    standing_of,
    trees_with_a_gap,
    without_day,
)


def with_tight_shares(problem, trees):
    """Give every other tree to one of two wards that have little more than their least shares."""
    ward = np.arange(problem.trees) % 2
    minutes = np.bincount(ward[trees], problem.service_minutes[trees], minlength=2)
    return replace(problem, ward=ward, ward_least_share=0.95 * minutes / max(minutes.sum(), 1.0))


def after_a_lost_day(seed: int, lost: int, more_minutes: float, *, tight: bool = False):
    """A scene whose other crew-days have got some time, and what is left of the plan."""
    found = planned_city(seed)
    if found is None:
        return None
    problem, plan = found
    now, standing = without_day(problem, standing_of(problem, plan), lost)
    now = replace(
        now,
        capacity_minutes=now.capacity_minutes * more_minutes,
        mandatory=np.zeros(now.trees, dtype=np.bool_),
    )
    narrow, home = narrowed(now, standing), standing.home(now)
    routes = still_possible(narrow, standing, home)
    narrow = with_tight_shares(narrow, np.concatenate(routes)) if tight else narrow
    wanting = asking(narrow, standing, routes)
    now = replace(now, ward=narrow.ward, ward_least_share=narrow.ward_least_share)
    judge = Judge(now, standing, PRICES)
    return now, standing, routes, Scene(narrow, standing, home, judge, NO_MONEY, wanting)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 3), st.floats(1.0, 1.6), st.booleans(), st.booleans())
def test_no_gap_is_left_that_a_tree_asking_fits(seed, lost, more_minutes, thorough, tight):
    made = after_a_lost_day(seed, lost, more_minutes, tight=tight)
    if made is None:
        return
    now, standing, before, scene = made
    after = placed(scene, before, Limits(None, 1), seconds=np.inf, thorough=thorough)
    check_routes(now, standing, after)
    assert scene.judge.standing_of(after) >= scene.judge.standing_of(before)
    for day, route in enumerate(after):
        assert set(before[day].tolist()) <= set(route.tolist())
    gaps = trees_with_a_gap(scene.problem, scene.judge, scene.asking, before)
    assert sum(map(len, after)) >= sum(map(len, before)) + bool(gaps)
    if len(now.ward_least_share):
        return  # a visit elsewhere may have made a ward's share large enough for one more
    still_out = np.setdiff1d(scene.asking, np.concatenate(after))
    assert trees_with_a_gap(scene.problem, scene.judge, still_out, after) == []


def test_gaps_are_filled_in_some_city():
    made = (after_a_lost_day(seed, 1, 1.6) for seed in range(20))
    filled = [
        sum(map(len, placed(scene, before, Limits(None, 1), seconds=np.inf)))
        - sum(map(len, before))
        for _, _, before, scene in (scene for scene in made if scene is not None)
    ]
    assert sum(filled) > 0
