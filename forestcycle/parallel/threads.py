"""Tasks in threads of this process."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from typing import Generic, Self

from forestcycle.parallel.task import Argument, Done, Result, Shared, Task, Value, with_name


@dataclass(frozen=True)
class _Here(Generic[Value]):
    """A value that is in this process already."""

    value: Value

    def open(self) -> Value:
        return self.value


class Threads:
    """For tasks that spend their time in compiled code without Python's lock.

    Nothing is copied and nothing has to start. An interruption waits for the
    tasks that have begun and drops the others.

    Parameters
    ----------
    workers : int, optional
        As many as the machine has cores by default.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or os.cpu_count() or 1
        self._pool = ThreadPoolExecutor(self.workers)

    def share(self, value: Value) -> Shared[Value]:
        """Hand the value out as it is.

        Parameters
        ----------
        value : object

        Returns
        -------
        Shared
        """
        return _Here(value)

    def run(
        self,
        function: Callable[[Value, Argument], Result],
        tasks: Sequence[Task[Argument]],
        shared: Shared[Value],
    ) -> Iterator[Done[Result]]:
        """As :meth:`forestcycle.parallel.Executor.run`.

        Raises
        ------
        KeyboardInterrupt
            Once the tasks that have begun are done, where the run was interrupted.
        """
        value = shared.open()
        position = {
            self._pool.submit(function, value, task.argument): place
            for place, task in enumerate(tasks)
        }
        interrupted = False
        left = set(position)
        try:
            while left:
                try:
                    for future in as_completed(left):
                        left.discard(future)
                        place = position[future]
                        yield Done(place, _value(future, tasks[place].name))
                except KeyboardInterrupt:
                    interrupted = True
                    left = {future for future in left if not future.cancel()}
        finally:
            for future in left:
                future.cancel()
        if interrupted:
            raise KeyboardInterrupt

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exception: object) -> None:
        self._pool.shutdown(cancel_futures=True)


def _value(future: Future[Result], name: str) -> Result:
    error = future.exception()
    if error is not None:
        raise with_name(error, name)
    return future.result()
