"""Threads: the same promises without processes."""

import signal
import threading
import time

import numpy as np
import pytest

from forestcycle.errors import PlanError
from forestcycle.parallel import Task, Threads, gather
from tests.parallel import jobs


def tasks_of(*arguments):
    return [Task(f"number {argument}", argument) for argument in arguments]


def test_values_come_in_the_order_of_the_tasks():
    with Threads(2) as executor:
        done = gather(executor, jobs.slow_for_some, tasks_of(*range(6)), executor.share(None))
        walks = gather(executor, jobs.random_walk, tasks_of(*range(4)), executor.share(None))
    assert list(done.values.values()) == list(range(6))
    for seed, walk in walks.values.items():
        np.testing.assert_array_equal(walk, jobs.random_walk(None, seed))


def test_errors_carry_the_name_of_their_task():
    with Threads(2) as executor, pytest.raises(PlanError, match="number 1: crews: no such crew"):
        gather(executor, jobs.complains, tasks_of(*range(3)), executor.share(None))


def test_ctrl_c_waits_for_what_has_begun_and_drops_the_rest():
    timer = threading.Timer(0.3, lambda: signal.pthread_kill(main, signal.SIGINT))
    main = threading.main_thread().ident
    began = time.monotonic()
    with Threads(2) as executor:
        timer.start()
        done = gather(executor, jobs.pid, tasks_of(*[0.6] * 50), executor.share(None))
    assert done.interrupted
    assert list(done.values) == [0, 1]
    assert time.monotonic() - began < 10
