"""Territories packed elsewhere: in processes, on a cluster, on a cluster that goes away."""

import pickle
import threading

import numpy as np
import pytest

from forestcycle.parallel import Cluster, Processes
from forestcycle.schedule import rounds, solve
from tests.benchmarks.invented_problem import check_plan, even_city
from tests.parallel.dask_cluster import dask_cluster

LIMIT = {"rounds": 2, "seed": 5}


@pytest.fixture(scope="module")
def problem():
    return even_city(600, 12, 4)


@pytest.fixture(scope="module")
def usual(problem):
    return solve(problem, **LIMIT)


def same(plan, other):
    np.testing.assert_array_equal(plan.tree, other.tree)
    np.testing.assert_array_equal(plan.crew_day, other.crew_day)
    assert not plan.interrupted


def test_processes_give_the_plan_of_threads(problem, usual):
    with Processes(2) as executor:
        same(solve(problem, executor=executor, **LIMIT), usual)


def test_a_cluster_gives_the_plan_of_threads_and_lives_on(problem, usual):
    with dask_cluster(2) as dask, Cluster(dask.address) as executor:
        same(solve(problem, executor=executor, **LIMIT), usual)
        by_the_clock = solve(problem, executor=executor, seconds=3, seed=1)
        assert check_plan(problem, by_the_clock) > 0.9 * by_the_clock.bound.value


def test_a_cluster_that_goes_away_costs_nothing_but_time(problem, usual):
    said = []
    with dask_cluster(1) as dask, Cluster(dask.address) as executor:

        def watch(step):
            said.append(str(step))
            if step.stage == "packing" and step.done == 1:
                threading.Thread(target=dask.scheduler.kill).start()

        same(solve(problem, executor=executor, progress=watch, **LIMIT), usual)
    assert any("gone" in line and "goes on on this machine" in line for line in said)


def test_when_time_is_over_the_rest_stays_empty_and_is_counted(problem, usual, monkeypatch):
    monkeypatch.setattr(rounds, "LEAST_FOR_FIRST_ROUTES", 0.0)
    plan = solve(problem, seconds=0.001, seed=1)
    assert check_plan(problem, plan) > 0
    used = len(np.unique(plan.crew_day))
    assert 0 < plan.unpacked <= problem.crew_days - used
    assert usual.unpacked == 0


def test_a_short_limit_packs_a_small_city_even_so(problem):
    plan = solve(problem, seconds=0.001, seed=1)
    assert plan.unpacked == 0
    assert check_plan(problem, plan) > 0


def test_a_territory_travels_without_the_problem(problem, monkeypatch):
    """What is sent for each territory is small; the problem goes to each worker once."""
    from forestcycle.schedule import packers

    sizes = []
    gather = packers.gather

    def weigh(executor, function, tasks, shared):
        sizes.extend(len(pickle.dumps(task)) for task in tasks)
        return gather(executor, function, tasks, shared)

    monkeypatch.setattr(packers, "gather", weigh)
    solve(problem, rounds=1, seed=1)
    assert max(sizes) < 20_000
