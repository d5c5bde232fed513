"""Draws and intervals: distributions as stated, one seed one table, nothing foreseen."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from forestcycle.errors import SettingsError
from forestcycle.outlook import Budget, Chances, load_chances, look_ahead, solve_horizon
from forestcycle.outlook.uncertainty import (
    FIGURES,
    Spread,
    draw_chances,
    follow_course,
    interval_table,
    load_spreads,
    planned_course,
    yearly_figures,
)
from forestcycle.parallel import KeptResults, Processes, Threads
from tests.outlook.small_horizon import small_horizon

YEARS = 5
NOTHING_VARIES = {}
VARIES = {"growth": Spread("lognormal", 1.2), "minutes": Spread("lognormal", 1.3)}


@pytest.fixture(scope="module")
def horizon():
    return small_horizon(200, seed=3)


@pytest.fixture(scope="module")
def plan(horizon):
    return solve_horizon(horizon, Budget("100 %", cents=(60_000,)), years=YEARS, beyond=2)


def table(horizon, plan, executor, *, draws=5, seed=1, spreads=VARIES, kept=None):
    return interval_table(
        horizon,
        [plan],
        executor,
        draws=draws,
        seed=seed,
        first_year=2027,
        spreads=spreads,
        kept=kept,
    )


def test_the_shipped_table_names_every_chance():
    found = load_spreads()
    assert set(found) == set(Chances.__dataclass_fields__)
    random = np.random.default_rng(1)
    for _ in range(200):
        drawn = draw_chances(load_chances(), found, random)
        assert 0 <= drawn.storm_days <= 0.05


def test_draws_follow_the_stated_distributions():
    """Against scipy.stats: Kolmogorov-Smirnov on 4,000 draws, and the quantile in the table."""
    spreads = {
        "growth": Spread("lognormal", 1.2),
        "storm_damage": Spread("lognormal", 2.0),
        "storm_days": Spread("uniform", 0.3),
    }
    random = np.random.default_rng(5)
    expected = Chances(growth=0.9, storm_damage=0.01, storm_days=0.1)
    drawn = [draw_chances(expected, spreads, random) for _ in range(4_000)]
    for name, median, upper in (("growth", 0.9, 1.2), ("storm_damage", 0.01, 2.0)):
        values = np.array([getattr(each, name) for each in drawn])
        sigma = np.log(upper) / stats.norm.ppf(0.95)
        assert stats.kstest(values, stats.lognorm(sigma, scale=median).cdf).pvalue > 0.01
        assert np.mean(values > median * upper) == pytest.approx(0.05, abs=0.015)
    days = np.array([each.storm_days for each in drawn])
    assert stats.kstest(days, stats.uniform(0.1, 0.2).cdf).pvalue > 0.01
    assert {each.minutes for each in drawn} == {1.0}


def test_a_table_of_the_citys_own(tmp_path):
    own = tmp_path / "uncertainty.csv"
    own.write_text("chance,distribution,upper,source\nminutes factor,lognormal,1.3,ours\n")
    assert load_spreads(folder=tmp_path) == {"minutes": Spread("lognormal", 1.3)}
    own.write_text("chance,distribution,upper,source\nminutes factor,lognormal,0.3,ours\n")
    with pytest.raises(SettingsError, match=r"minutes factor: upper = 0\.3 -> give 1 or more"):
        load_spreads(folder=tmp_path)
    own.write_text("chance,distribution,upper,source\nluck,normal,1.3,ours\n")
    with pytest.raises(SettingsError, match="luck"):
        load_spreads(folder=tmp_path)


def test_without_draws_the_course_is_nearly_the_plan(horizon, plan):
    """Following values year by year, not knowing the future, loses little against the optimum."""
    followed = follow_course(horizon, planned_course(horizon, plan))
    undone = followed.city("worth_undone").sum()
    best = plan.trajectory.city("worth_undone").sum()
    assert undone <= 1.1 * best
    assert (followed.cents <= 60_000 + 1e-6).all()
    assert followed.city("trees") == pytest.approx(plan.trajectory.city("trees"))


def test_one_seed_one_table_whoever_plays(horizon, plan):
    with Threads(1) as one:
        expected, played = table(horizon, plan, one)
        other, _ = table(horizon, plan, one, seed=2)
    assert played == 5
    with Processes(2) as two:
        again, _ = table(horizon, plan, two)
    pd.testing.assert_frame_equal(again, expected)
    assert not other["high"].equals(expected["high"])


class Interrupted(Threads):
    """Plays two draws, then Ctrl-C comes."""

    def run(self, function, tasks, shared):
        yield from super().run(function, tasks[:2], shared)
        raise KeyboardInterrupt


def test_an_interrupted_run_resumes_where_it_stopped(horizon, plan, tmp_path):
    kept = KeptResults(tmp_path / "kept")
    with Threads(1) as whole, Interrupted(1) as broken:
        expected, _ = table(horizon, plan, whole)
        assert table(horizon, plan, broken, kept=kept)[1] == 2
        before = {path: path.stat().st_mtime_ns for path in kept.folder.iterdir()}
        assert len(before) == 2
        resumed, played = table(horizon, plan, whole, kept=kept)
    assert played == 5
    pd.testing.assert_frame_equal(resumed, expected)
    assert len(list(kept.folder.iterdir())) == 5
    assert all(path.stat().st_mtime_ns == stamp for path, stamp in before.items())


def test_intervals_are_in_order_and_have_every_figure_of_every_year(horizon, plan):
    with Threads(2) as executor:
        found, _ = table(horizon, plan, executor)
    assert len(found) == YEARS * len(FIGURES)
    assert (found["low"] <= found["middle"]).all()
    assert (found["middle"] <= found["high"]).all()
    expected = yearly_figures(plan.trajectory).ravel()
    assert found["expected"].to_numpy() == pytest.approx(expected)
    assert found["year"].unique().tolist() == [2027 + year for year in range(YEARS)]
    trees = found[found["figure"] == "trees"]
    assert (trees["low"] == trees["high"]).all(), "no chance fells or plants a tree"
    undone = found[found["figure"] == "worth_undone"]
    assert (undone["high"] > undone["low"]).any()


def test_without_spread_all_draws_are_one(horizon, plan):
    with Threads(2) as executor:
        found, _ = table(horizon, plan, executor, draws=3, spreads=NOTHING_VARIES)
    assert found["low"].to_numpy() == pytest.approx(found["high"].to_numpy())


def test_slower_work_leaves_more_undone(horizon, plan):
    slow = look_ahead(horizon.stock, Chances(minutes=1.5, storm_damage=0.0076))
    course = planned_course(horizon, plan)
    usual, slowed = (follow_course(each, course) for each in (horizon, slow))
    assert slowed.city("worth_undone").sum() > usual.city("worth_undone").sum()
    assert slowed.city("visits").sum() < usual.city("visits").sum()
