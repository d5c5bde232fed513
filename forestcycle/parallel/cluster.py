"""Tasks on a Dask cluster that is already there."""

import logging
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Self

from forestcycle.errors import Fault, SettingsError, WorkerError
from forestcycle.parallel.answer import answer, value_of
from forestcycle.parallel.task import Argument, Done, Result, Shared, Task, Value
from forestcycle.version import VERSION

if TYPE_CHECKING:
    from distributed import Client, Future

SECONDS_TO_CONNECT = 15
SECONDS_FOR_WORKERS = 60
MOST_TRIES = 3


@dataclass(frozen=True)
class _OnWorkers(Generic[Value]):
    """A value kept here, and sent out again if every worker that had it is gone."""

    value: Value

    def open(self) -> Value:
        return self.value


class Cluster:
    """For long runs on many machines.

    Dask runs a task again if its worker dies. What is shared lives on the
    workers only, so if all of them die it is sent again to those that come
    after them.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://10.0.0.5:8786``.

    Raises
    ------
    SettingsError
        If the extra ``cluster`` is not installed.
    WorkerError
        If no scheduler answers, no worker comes, or a worker has another version
        of forestcycle.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self._client = _connect(address)
        self._threads = 1
        self._sent: dict[int, tuple[Shared[Any], Future]] = {}
        try:
            self._wait_for_workers()
            self._check_versions()
        except BaseException:
            self._client.close()
            raise

    @property
    def workers(self) -> int:
        """Threads of all workers; those last heard of, if the scheduler is gone."""
        with suppress(OSError):
            self._threads = max(1, sum(self._client.nthreads().values()))
        return self._threads

    def share(self, value: Value) -> Shared[Value]:
        """Keep the value; it is sent when the first task needs it.

        Parameters
        ----------
        value : object

        Returns
        -------
        Shared
        """
        return _OnWorkers(value)

    def run(
        self,
        function: Callable[[Value, Argument], Result],
        tasks: Sequence[Task[Argument]],
        shared: Shared[Value],
    ) -> Iterator[Done[Result]]:
        """As :meth:`forestcycle.parallel.Executor.run`.

        Raises
        ------
        WorkerError
            If scheduler or workers are gone, and stay gone.
        """
        left = dict(enumerate(tasks))
        for _ in range(MOST_TRIES):
            for done in self._try_all(function, left, shared):
                del left[done.position]
                yield done
            if not left:
                return
        raise self._gone("all its workers died", "see the workers' own logs; then run again")

    def _try_all(
        self,
        function: Callable[[Value, Argument], Result],
        tasks: dict[int, Task[Argument]],
        shared: Shared[Value],
    ) -> Iterator[Done[Result]]:
        """Yield the tasks that come through; those cut off are simply not among them."""
        from distributed import as_completed

        try:
            there = self._send(shared)
            position = {
                self._client.submit(answer, function, there, task.argument, pure=False): place
                for place, task in tasks.items()
            }
        except OSError:
            raise self._scheduler_gone() from None
        try:
            for future in as_completed(list(position), loop=self._client.loop):
                place = position[future]
                try:
                    came = self._fetch(future, tasks[place].name)
                except CancelledError:
                    self._sent.clear()
                    self._check_scheduler()
                else:
                    yield Done(place, value_of(came, tasks[place].name))
        finally:
            if self._client.status == "running":
                self._client.cancel(list(position), force=True)

    def _fetch(self, future: "Future", name: str) -> Any:  # noqa: ANN401 - of any task
        """Bring an answer home; CancelledError if the task was cut off."""
        try:
            return future.result()
        except CancelledError:
            raise
        except OSError:
            raise self._scheduler_gone() from None
        except Exception as error:  # noqa: BLE001 - Dask's own: the task's are part of the answer
            raise WorkerError(
                Fault(
                    f"cannot be done on the cluster at {self.address}: {error}",
                    name,
                    "most often memory ran out: give the workers more, or run fewer at a time",
                )
            ) from None

    def _send(self, shared: Shared[Value]) -> "Future":
        """Send a shared value to every worker, unless it is there."""
        if id(shared) not in self._sent:
            self._wait_for_workers()
            [future] = self._client.scatter([shared.open()], broadcast=True, hash=False)
            self._sent[id(shared)] = shared, future
        return self._sent[id(shared)][1]

    def _wait_for_workers(self) -> None:
        try:
            self._client.wait_for_workers(1, timeout=SECONDS_FOR_WORKERS)
        except TimeoutError:
            raise self._gone("it has no workers", "start some: dask worker ADDRESS") from None

    def _check_scheduler(self) -> None:
        if self._client.status != "running":
            raise self._scheduler_gone()

    def _check_versions(self) -> None:
        """Workers of another version would give other results, or none."""
        found = self._client.run(_installed_version, on_error="return")
        faults = [
            Fault(
                f"has version {said}, here it is {VERSION}", worker, "install the same everywhere"
            )
            for worker, said in found.items()
            if said != VERSION
        ]
        if faults:
            raise WorkerError(faults)

    def _scheduler_gone(self) -> WorkerError:
        return self._gone("its scheduler is gone", "start it and its workers again")

    def _gone(self, what: str, remedy: str) -> WorkerError:
        return WorkerError(Fault(what, f"cluster {self.address}", remedy))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exception: object) -> None:
        self._client.close()


def _connect(address: str) -> "Client":
    try:
        from distributed import Client
    except ImportError:
        raise SettingsError(
            Fault("needs a package more", "--cluster", "pip install 'forestcycle[cluster]'")
        ) from None
    # What it logs as an error with a traceback is raised here as one line.
    for name in ("distributed", "distributed.client"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        return Client(address, timeout=SECONDS_TO_CONNECT, set_as_default=False)
    except (OSError, ValueError) as error:
        raise WorkerError(
            Fault(
                f"no scheduler answers: {error}",
                f"cluster {address}",
                "check the address that 'dask scheduler' printed",
            )
        ) from None


def _installed_version() -> str:
    return VERSION
