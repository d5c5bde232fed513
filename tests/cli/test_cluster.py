"""Commands on a cluster say the same as on one machine, and say in one line what is missing."""

import json

import pytest

import sample_city
from tests.cli.commands import run
from tests.parallel.dask_cluster import dask_cluster

SAME = ("trees_planned", "crew_days_used", "worth", "bound", "cost_cents", "verified")


@pytest.fixture(scope="module")
def city(tmp_path_factory):
    folder = tmp_path_factory.mktemp("city")
    sample_city.make(folder, trees=200, seed=5)
    return folder


def summary(folder):
    found = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    return {name: found[name] for name in SAME}


def test_a_plan_from_a_cluster_is_the_same_plan(city):
    words = ("plan", "cycle.toml", "--rounds", 1, "--quiet")
    alone = run(*words, "--out", "alone", cwd=city)
    assert alone.code == 0, alone.said
    with dask_cluster(1) as dask:
        spread = run(*words, "--out", "spread", "--cluster", dask.address, cwd=city)
    assert spread.code == 0, spread.said
    assert summary(city / "spread") == summary(city / "alone")


def test_draws_from_a_cluster_are_the_same_draws(city):
    words = ("outlook", "cycle.toml", "--years", 1, "--budgets", "100%", "--draws", 2, "--quiet")
    alone = run(*words, "--workers", 1, "--out", "here", cwd=city)
    assert alone.code == 0, alone.said
    with dask_cluster(2) as dask:
        spread = run(*words, "--out", "there", "--cluster", dask.address, cwd=city)
    assert spread.code == 0, spread.said
    for name in ("intervals.csv", "ward_intervals.csv", "summary_intervals.csv"):
        assert (city / "there" / name).read_bytes() == (city / "here" / name).read_bytes()


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "cycle.toml", "--out", "p"),
        ("outlook", "cycle.toml", "--years", 1, "--draws", 1, "--out", "o"),
    ],
)
def test_no_scheduler_is_one_line(city, words, monkeypatch):
    monkeypatch.setattr("forestcycle.parallel.cluster.SECONDS_TO_CONNECT", 1)
    ended = run(*words, "--quiet", "--cluster", "tcp://127.0.0.1:9", cwd=city)
    assert ended.code == 2, ended.said
    [line] = ended.err.splitlines()
    assert line.startswith("cluster tcp://127.0.0.1:9: no scheduler answers")
    assert not (city / "p").exists()
