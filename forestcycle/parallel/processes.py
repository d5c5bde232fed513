"""Tasks in processes of this machine."""

import contextlib
import multiprocessing
import os
import pickle
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any, Self

from forestcycle.errors import Fault, WorkerError
from forestcycle.parallel.answer import Failure, answer, sendable, value_of
from forestcycle.parallel.parcel import Parcel
from forestcycle.parallel.parcel_folder import ParcelFolder
from forestcycle.parallel.task import Argument, Done, Result, Shared, Task, Value

MOST_TRIES = 3
SECONDS_TO_LEAVE = 5.0


@dataclass(eq=False)
class _Worker:
    process: BaseProcess
    connection: Connection

    def stop(self) -> None:
        self.connection.close()
        self.process.terminate()
        self.process.join(SECONDS_TO_LEAVE)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()
        self.process.close()


@dataclass
class _Round:
    """The state of one call of :meth:`Processes.run`."""

    waiting: deque[int]
    busy: dict[_Worker, int] = field(default_factory=dict)
    tries: dict[int, int] = field(default_factory=dict)


class Processes:
    """For any task. A worker that dies is replaced and its task is run again.

    Workers are fresh interpreters (the start method "spawn"), so a script that
    uses this needs the guard ``if __name__ == "__main__"``. They ignore Ctrl-C;
    the parent process stops them.

    Parameters
    ----------
    workers : int, optional
        As many as the machine has cores by default.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or os.cpu_count() or 1
        self._start = multiprocessing.get_context("spawn")
        self._idle: list[_Worker] = []
        self._folder = ParcelFolder()

    def share(self, value: Value) -> Shared[Value]:
        """Write the value to a file that the workers map into memory.

        Parameters
        ----------
        value : object
            Arrays in it are not copied.

        Returns
        -------
        Shared
        """
        return Parcel.write(value, self._folder.new_parcel())

    def run(
        self,
        function: Callable[[Value, Argument], Result],
        tasks: Sequence[Task[Argument]],
        shared: Shared[Value],
    ) -> Iterator[Done[Result]]:
        """As :meth:`forestcycle.parallel.Executor.run`."""
        state = _Round(deque(range(len(tasks))))
        try:
            while state.waiting or state.busy:
                self._hand_out(state, function, tasks, shared)
                ready = wait([worker.connection for worker in state.busy])
                for worker in [worker for worker in state.busy if worker.connection in ready]:
                    yield from self._take_in(worker, state, tasks)
        finally:
            for worker in state.busy:
                worker.stop()

    def _hand_out(
        self,
        state: _Round,
        function: Callable[[Value, Argument], Result],
        tasks: Sequence[Task[Argument]],
        shared: Shared[Value],
    ) -> None:
        while state.waiting and len(state.busy) < self.workers:
            worker = self._idle.pop() if self._idle else self._new_worker()
            position = state.waiting.popleft()
            state.busy[worker] = position
            try:
                worker.connection.send((function, shared, tasks[position].argument))
            except OSError:
                self._try_again(worker, state, tasks)

    def _take_in(
        self, worker: _Worker, state: _Round, tasks: Sequence[Task[Any]]
    ) -> Iterator[Done[Any]]:
        try:
            sent = worker.connection.recv()
        except (EOFError, OSError):
            self._try_again(worker, state, tasks)
            return
        position = state.busy.pop(worker)
        self._idle.append(worker)
        yield Done(position, value_of(sent, tasks[position].name))

    def _try_again(self, worker: _Worker, state: _Round, tasks: Sequence[Task[Any]]) -> None:
        """Put the task of a dead worker back to the front, a few times at most."""
        position = state.busy.pop(worker)
        worker.stop()
        state.tries[position] = state.tries.get(position, 0) + 1
        if state.tries[position] >= MOST_TRIES:
            raise WorkerError(
                Fault(
                    f"its worker died {MOST_TRIES} times",
                    tasks[position].name,
                    "most often memory ran out: use fewer workers or a larger machine",
                )
            )
        state.waiting.appendleft(position)

    def _new_worker(self) -> _Worker:
        ours, theirs = self._start.Pipe()
        process = self._start.Process(target=_serve, args=(theirs,), daemon=True)
        with _deaf_to_interruptions():
            process.start()
        theirs.close()
        return _Worker(process, ours)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exception: object) -> None:
        for worker in self._idle:
            worker.stop()
        self._idle.clear()
        self._folder.remove()


@contextlib.contextmanager
def _deaf_to_interruptions() -> Iterator[None]:
    """Let what is started in here ignore Ctrl-C from its first moment on, while it loads too.

    A process inherits the signals that are held back. Here they are held back for
    as long as a start takes.
    """
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    resource_tracker.ensure_running()  # started with the first worker, it would let them through
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(connection: Connection) -> None:
    """Carry out tasks until the parent process closes the connection or is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    while True:
        try:
            message = connection.recv_bytes()
        except (EOFError, OSError):
            return
        try:
            connection.send_bytes(_carry_out(message))
        except OSError:  # the parent process was killed
            return


def _leave_with_parent() -> None:
    """End this process once its parent is: a task may have many minutes to go."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _carry_out(message: bytes) -> bytes:
    try:
        function, shared, argument = pickle.loads(message)  # noqa: S301 - from our own parent
        return pickle.dumps(answer(function, shared.open(), argument), protocol=5)
    except Exception as error:  # noqa: BLE001 - raised again in the parent process
        return pickle.dumps(Failure(sendable(error)))
