"""Worker processes: order, one copy of what is shared, deaths, errors, Ctrl-C."""

import os
import signal
import subprocess
import sys
import textwrap
import time

import numpy as np
import pytest

from forestcycle.errors import PlanError, WorkerError
from forestcycle.parallel import Processes, Task, gather
from tests.parallel import jobs


@pytest.fixture(scope="module")
def two():
    with Processes(2) as executor:
        yield executor


def tasks_of(*arguments):
    return [Task(f"number {argument}", argument) for argument in arguments]


def run(executor, function, arguments, shared=None):
    done = gather(executor, function, tasks_of(*arguments), executor.share(shared))
    assert not done.interrupted
    assert list(done.values) == list(range(len(arguments)))
    return list(done.values.values())


def test_values_come_in_the_order_of_the_tasks(two):
    assert run(two, jobs.slow_for_some, range(6)) == list(range(6))
    assert run(two, jobs.times, [], 3) == []


def test_shared_arrays_are_one_read_only_copy(two):
    shared = {"table": np.arange(3e5).reshape(3, -1), "words": ["oak", "elm"]}
    expected = [float(row.sum()) + 2 for row in shared["table"]]
    assert run(two, jobs.sum_of, range(3), shared) == expected
    assert run(two, jobs.is_writeable, [0], shared) == [False]


def test_workers_stay_and_both_work(two):
    first = set(run(two, jobs.pid, [0.2] * 6))
    assert len(first) == 2
    assert set(run(two, jobs.pid, [0.2] * 6)) == first
    assert os.getpid() not in first


def test_the_task_of_a_dead_worker_is_run_again(two, tmp_path):
    assert run(two, jobs.dies_once, range(6), str(tmp_path)) == [10 * n for n in range(6)]
    assert (tmp_path / "died").exists()


def test_a_task_that_always_kills_its_worker_is_named(two):
    with pytest.raises(WorkerError, match=r"number 2: its worker died 3 times.*memory"):
        run(two, jobs.dies_always, range(4))
    assert run(two, jobs.times, range(4), 2) == [0, 2, 4, 6]


def test_errors_carry_the_name_of_their_task(two):
    with pytest.raises(PlanError) as caught:
        run(two, jobs.complains, range(3))
    assert str(caught.value) == "number 1: crews: no such crew -> add one"
    with pytest.raises(ZeroDivisionError) as caught:
        run(two, jobs.divides, [0])
    assert caught.value.__notes__ == ["in number 0"]


def test_an_error_that_cannot_travel_arrives_as_text(two):
    with pytest.raises(RuntimeError, match="UnsendableError: 7 and more"):
        run(two, jobs.raises_unsendable, [7])


def test_a_function_that_workers_cannot_find_is_an_error_not_a_death(two):
    with pytest.raises((AttributeError, ImportError)):
        run(two, _vanishing(), [1])


def _vanishing():
    """A function whose module exists in this process only."""
    module = type(sys)("only_here")
    exec("def vanish(shared, number): return number", module.__dict__)  # noqa: S102
    sys.modules["only_here"] = module
    return module.vanish


def test_one_worker_and_three_give_the_same():
    expected = [jobs.random_walk(None, seed) for seed in range(5)]
    for workers in (1, 3):
        with Processes(workers) as executor:
            np.testing.assert_array_equal(run(executor, jobs.random_walk, range(5)), expected)


def test_ctrl_c_keeps_what_is_done_and_leaves_no_process(tmp_path):
    """Ctrl-C as a terminal sends it: to the parent and to its workers."""
    script = tmp_path / "script.py"
    script.write_text(
        textwrap.dedent(
            """
            from forestcycle.parallel import Processes, Task, gather
            from tests.parallel import jobs

            if __name__ == "__main__":
                with Processes(2) as executor:
                    numbers = [0.0, 0.0, 0.0, 60.0, 60.0]
                    tasks = [Task(str(n), n) for n in numbers]
                    said = lambda step: print("done", step.done, flush=True)
                    found = gather(executor, jobs.pid, tasks, executor.share(None), progress=said)
                    print("kept", len(found.values), found.interrupted)
                    print("workers", *set(found.values.values()))
            """
        )
    )
    process = subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        start_new_session=True,
    )
    for line in process.stdout:
        if line == "done 3\n":
            os.killpg(process.pid, signal.SIGINT)
            break
    rest, errors = process.communicate(timeout=60)
    assert process.returncode == 0, errors
    assert errors == ""
    kept, workers = rest.splitlines()
    assert kept == "kept 3 True"
    for pid in workers.split()[1:]:
        with pytest.raises(ProcessLookupError):
            os.kill(int(pid), 0)


def start_slow_tasks(folder, seconds=(1.0,) * 20):
    """Start a script whose workers load their modules and then have seconds of work each."""
    script = folder / "script.py"
    script.write_text(
        textwrap.dedent(
            f"""
            from forestcycle.parallel import Processes, Task
            from tests.parallel import jobs

            if __name__ == "__main__":
                with Processes(2) as executor:
                    print("starts", flush=True)
                    tasks = [Task(str(n), n) for n in {seconds}]
                    try:
                        for _ in executor.run(jobs.pid, tasks, executor.share(None)):
                            print("done", flush=True)
                    except KeyboardInterrupt:
                        print("interrupted", flush=True)
            """
        )
    )
    return subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path), "TMPDIR": str(folder)},
        start_new_session=True,
    )


def test_ctrl_c_while_workers_load_is_told_once(tmp_path):
    process = start_slow_tasks(tmp_path)
    assert process.stdout.readline() == "starts\n"
    time.sleep(0.4)
    os.killpg(process.pid, signal.SIGINT)
    told, errors = process.communicate(timeout=60)
    assert (process.returncode, errors) == (0, "")
    assert told.splitlines()[-1] == "interrupted"


def test_workers_of_a_killed_process_leave_without_a_word(tmp_path):
    process = start_slow_tasks(tmp_path, (0.0, 600.0, 600.0))
    while process.stdout.readline() != "done\n":
        pass
    process.kill()
    _, errors = process.communicate(timeout=60)  # until the last worker has closed them
    assert errors == ""
