"""Draws: one seed one result, whoever plays and however often interrupted; nothing foreseen."""

import numpy as np
import pytest

from forestcycle.outlook import Budget, Chances, look_ahead, solve_horizon
from forestcycle.outlook.spreads import Spread
from forestcycle.outlook.target import Target
from forestcycle.outlook.uncertainty import FIGURES, follow_course, planned_course, play_draws
from forestcycle.parallel import KeptResults, Processes, Threads
from tests.outlook.small_horizon import small_horizon

YEARS = 5
VARIES = {"growth": Spread("lognormal", 1.2), "minutes": Spread("lognormal", 1.3)}
TARGETS = (Target("on recall", 0.5, YEARS),)


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(200, seed=3)


@pytest.fixture(scope="module")
def plan(horizon):
    return solve_horizon(horizon, Budget("100 %", cents=(60_000,)), years=YEARS, beyond=2)


def drawn(horizon, plan, executor, *, draws=5, seed=1, spreads=VARIES, kept=None):
    return play_draws(
        horizon,
        [plan],
        executor,
        draws=draws,
        seed=seed,
        spreads=spreads,
        targets=TARGETS,
        kept=kept,
    )


def test_without_draws_the_course_is_nearly_the_plan(horizon, plan):
    """Following values year by year, not knowing the future, loses little against the optimum."""
    followed = follow_course(horizon, planned_course(horizon, plan))
    undone = followed.city("worth_undone").sum()
    best = plan.trajectory.city("worth_undone").sum()
    assert undone <= 1.1 * best
    assert (followed.cents <= 60_000 + 1e-6).all()
    assert followed.city("trees") == pytest.approx(plan.trajectory.city("trees"))


def test_one_seed_one_result_whoever_plays(horizon, plan):
    with Threads(1) as one:
        expected = drawn(horizon, plan, one)
        other = drawn(horizon, plan, one, seed=2)
    assert len(expected) == 5
    with Processes(2) as two:
        assert drawn(horizon, plan, two) == expected
    assert other != expected


class Interrupted(Threads):
    """Plays two draws, then Ctrl-C comes."""

    def run(self, function, tasks, shared):
        yield from super().run(function, tasks[:2], shared)
        raise KeyboardInterrupt


def test_an_interrupted_run_resumes_where_it_stopped(horizon, plan, tmp_path):
    kept = KeptResults(tmp_path / "kept")
    with Threads(1) as whole, Interrupted(1) as broken:
        expected = drawn(horizon, plan, whole)
        assert drawn(horizon, plan, broken, kept=kept) == expected[:2]
        before = {path: path.stat().st_mtime_ns for path in kept.folder.iterdir()}
        assert len(before) == 2
        assert drawn(horizon, plan, whole, kept=kept) == expected
    assert len(list(kept.folder.iterdir())) == 5
    assert all(path.stat().st_mtime_ns == stamp for path, stamp in before.items())


def test_each_draw_says_whether_the_targets_are_met(horizon, plan):
    with Threads(2) as executor:
        found = drawn(horizon, plan, executor)
    last = np.array([draw[0]["years"] for draw in found])[:, -1]
    on_recall, every = (last[:, FIGURES.index(name)] for name in ("on_recall", "trees"))
    assert [draw[0]["met"] for draw in found] == (on_recall / every >= 0.5).tolist()


def test_slower_work_leaves_more_undone(horizon, plan):
    slow = look_ahead(horizon.stock, Chances(minutes=1.5, storm_damage=0.0076))
    course = planned_course(horizon, plan)
    usual, slowed = (follow_course(each, course) for each in (horizon, slow))
    assert slowed.city("worth_undone").sum() > usual.city("worth_undone").sum()
    assert slowed.city("visits").sum() < usual.city("visits").sum()
