"""A real scheduler with real workers on loopback: deaths, slowness, the scheduler gone."""

import signal
import sys
import threading
import time

import numpy as np
import pytest

from forestcycle.errors import PlanError, SettingsError, WorkerError
from forestcycle.parallel import Cluster, KeptResults, Processes, Task, gather
from forestcycle.parallel import cluster as cluster_module
from forestcycle.version import VERSION
from tests.parallel import jobs
from tests.parallel.dask_cluster import dask_cluster


def tasks_of(*arguments):
    return [Task(f"number {argument}", argument) for argument in arguments]


def once_under_way(act):
    """A progress reporter that acts when the third result is home."""

    def watch(step):
        if step.done == 3:
            threading.Thread(target=act).start()

    return watch


@pytest.fixture(scope="module")
def dask():
    with dask_cluster(2) as running:
        yield running


@pytest.fixture
def executor(dask):
    with Cluster(dask.address) as opened:
        opened._client.wait_for_workers(2, timeout=30)
        yield opened


def values(executor, function, arguments, shared=None, **options):
    done = gather(executor, function, tasks_of(*arguments), executor.share(shared), **options)
    assert list(done.values) == list(range(len(arguments)))
    return list(done.values.values())


def test_same_values_in_the_same_order_as_processes(executor):
    shared = {"table": np.arange(3e4).reshape(30, -1), "words": ["oak"]}
    assert executor.workers == 2
    with Processes(2) as processes:
        for function, given in ((jobs.sum_of, shared), (jobs.random_walk, None)):
            np.testing.assert_array_equal(
                values(executor, function, range(30), given),
                values(processes, function, range(30), given),
            )


def test_a_slow_task_holds_nobody_up(executor):
    assert values(executor, jobs.slow_for_some, range(20)) == list(range(20))


def test_a_worker_that_stands_still_leaves_its_share_to_the_others(tmp_path):
    """It goes on only once the other has done the rest, but for what it holds itself."""
    told = []
    with dask_cluster(2) as dask, Cluster(dask.address) as executor:
        executor._client.wait_for_workers(2, timeout=30)
        slow = dask.workers[0]

        def stand_still():
            slow.send_signal(signal.SIGSTOP)
            until = time.monotonic() + 60
            while len(list(tmp_path.iterdir())) < 16 and time.monotonic() < until:
                time.sleep(0.05)
            told.append(len(list(tmp_path.iterdir())))
            slow.send_signal(signal.SIGCONT)

        watch = once_under_way(stand_still)
        found = values(executor, jobs.stamps, range(20), str(tmp_path), progress=watch)
        assert slow.poll() is None
    assert found == [{"number": n, "half": n / 2} for n in range(20)]
    assert told[0] >= 16


def test_errors_carry_the_name_of_their_task(executor):
    with pytest.raises(PlanError, match="number 1: crews: no such crew -> add one"):
        values(executor, jobs.complains, range(3))
    with pytest.raises(RuntimeError, match="UnsendableError"):
        values(executor, jobs.raises_unsendable, [7])


def test_a_worker_killed_in_the_middle_loses_nothing(tmp_path):
    with dask_cluster(2) as dask, Cluster(dask.address) as executor:
        executor._client.wait_for_workers(2, timeout=30)
        kill = once_under_way(dask.workers[0].kill)
        found = values(executor, jobs.stamps, range(20), str(tmp_path), progress=kill)
        assert found == [{"number": n, "half": n / 2} for n in range(20)]
        assert dask.workers[0].wait() == -9


def test_all_workers_killed_and_others_come(tmp_path):
    with dask_cluster(1) as dask, Cluster(dask.address) as executor:

        def replace():
            dask.workers[0].kill()
            dask.workers.append(dask.add_worker())

        watch = once_under_way(replace)
        found = values(executor, jobs.stamps, range(15), str(tmp_path), progress=watch)
        assert [each["number"] for each in found] == list(range(15))


def test_no_worker_left_is_said_in_one_line(monkeypatch, tmp_path):
    with dask_cluster(1) as dask, Cluster(dask.address) as executor:
        monkeypatch.setattr(cluster_module, "SECONDS_FOR_WORKERS", 2)
        kill = once_under_way(dask.workers[0].kill)
        with pytest.raises(WorkerError) as caught:
            values(executor, jobs.stamps, range(30), str(tmp_path), progress=kill)
        assert str(caught.value) == (
            f"cluster {dask.address}: it has no workers -> start some: dask worker ADDRESS"
        )


def test_the_scheduler_gone_leaves_a_run_that_can_be_resumed(tmp_path, caplog):
    """The second run does only what the first did not bring home."""
    marks = tmp_path / "marks"
    marks.mkdir()
    kept = KeptResults(tmp_path / "kept")
    keys = [f"key-{n}" for n in range(20)]
    with dask_cluster(2) as dask, Cluster(dask.address) as executor:
        kill = once_under_way(dask.scheduler.kill)
        options = {"kept": kept, "keys": keys, "progress": kill}
        with pytest.raises(WorkerError) as caught:
            values(executor, jobs.stamps, range(20), str(marks), **options)
    first, second = str(caught.value).splitlines()
    assert "its scheduler is gone -> start it and its workers again" in first
    saved = len(list(kept.folder.iterdir()))
    assert 0 < saved < 20
    assert second == (
        f"{kept.folder}: {saved} of 20 results are kept -> "
        "run the same command again to do the others"
    )
    assert caplog.text == ""
    time.sleep(0.5)
    before = set(marks.iterdir())
    with Processes(2) as executor:
        found = values(executor, jobs.stamps, range(20), str(marks), kept=kept, keys=keys)
    assert found == [{"number": n, "half": n / 2} for n in range(20)]
    assert len(set(marks.iterdir()) - before) == 20 - saved


def test_a_scheduler_gone_before_the_tasks_is_said_too(monkeypatch):
    monkeypatch.setattr(cluster_module, "SECONDS_TO_CONNECT", 5)
    with dask_cluster(1) as dask, Cluster(dask.address) as executor:
        assert executor.workers == 1
        dask.scheduler.kill()
        dask.scheduler.wait()
        assert executor.workers == 1
        with pytest.raises(WorkerError, match="its scheduler is gone"):
            values(executor, jobs.times, range(3), 2)


def test_an_address_without_a_scheduler(monkeypatch):
    monkeypatch.setattr(cluster_module, "SECONDS_TO_CONNECT", 1)
    with pytest.raises(WorkerError, match=r"cluster tcp://127\.0\.0\.1:9: no scheduler answers"):
        Cluster("tcp://127.0.0.1:9")
    with pytest.raises(WorkerError, match="no scheduler answers"):
        Cluster("nonsense://here")


def test_workers_of_another_version_are_refused(dask, monkeypatch):
    dask.wait_for_workers(2)
    monkeypatch.setattr(cluster_module, "VERSION", "9.9.9")
    with pytest.raises(WorkerError) as caught:
        Cluster(dask.address)
    assert len(caught.value.faults) == 2
    assert f"has version {VERSION}, here it is 9.9.9 -> install the same" in str(caught.value)


def test_without_the_extra_the_remedy_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SettingsError, match=r"pip install 'forestcycle\[cluster\]'"):
        Cluster("tcp://127.0.0.1:8786")
