"""A real scheduler and real workers on loopback, each a process of its own."""

import re
import subprocess
import sys
import threading
from contextlib import contextmanager

from distributed import Client

LOOPBACK = "127.0.0.1"
QUIET = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL}


class DaskCluster:
    """Processes that a test may kill."""

    def __init__(self, workers):
        self.scheduler = self._start(
            "distributed.cli.dask_scheduler", "--host", LOOPBACK, "--port", "0"
        )
        self.address = self._read_address()
        self.workers = [self.add_worker() for _ in range(workers)]

    def add_worker(self):
        return self._start(
            "distributed.cli.dask_worker", self.address, "--nthreads", "1", "--no-nanny",
            "--host", LOOPBACK,
        )  # fmt: skip

    def wait_for_workers(self, count):
        with Client(self.address) as client:
            client.wait_for_workers(count, timeout=60)

    def stop(self):
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()
            process.stderr.close()

    @staticmethod
    def _start(module, *arguments):
        process = subprocess.Popen(
            [sys.executable, "-m", module, *arguments, "--no-dashboard"],
            stderr=subprocess.PIPE, text=True, **QUIET,
        )  # fmt: skip
        if module.endswith("worker"):
            threading.Thread(target=_drain, args=(process.stderr,), daemon=True).start()
        return process

    def _read_address(self):
        for line in self.scheduler.stderr:
            found = re.search(r"Scheduler at:\s+(tcp://\S+)", line)
            if found:
                threading.Thread(target=_drain, args=(self.scheduler.stderr,), daemon=True).start()
                return found[1]
        raise RuntimeError("the scheduler did not start")


def _drain(stream):
    try:
        for _ in stream:
            pass
    except ValueError:  # closed while reading, at the end of a test
        pass


@contextmanager
def dask_cluster(workers=2):
    cluster = DaskCluster(workers)
    try:
        yield cluster
    finally:
        cluster.stop()
