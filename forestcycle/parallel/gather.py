"""Run tasks to the end, or as far as an interruption lets them come."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic

from forestcycle.errors import Fault, WorkerError
from forestcycle.parallel.kept import KeptResults
from forestcycle.parallel.task import Argument, Executor, Result, Shared, Task, Value
from forestcycle.progress import Progress, Step, silent


@dataclass(frozen=True)
class Gathered(Generic[Result]):
    """Results in the order of the tasks.

    Attributes
    ----------
    values : dict of int to object
        By position of the task; positions without a result are missing.
    interrupted : bool
        The user pressed Ctrl-C before all was done.
    """

    values: dict[int, Result]
    interrupted: bool


def gather(
    executor: Executor,
    function: Callable[[Value, Argument], Result],
    tasks: Sequence[Task[Argument]],
    shared: Shared[Value],
    *,
    kept: KeptResults | None = None,
    keys: Sequence[str] = (),
    stage: str = "",
    progress: Progress = silent,
) -> Gathered[Result]:
    """Run all tasks and put their results in order.

    Parameters
    ----------
    executor, function, tasks, shared
        As for :meth:`Executor.run`.
    kept : KeptResults, optional
        Where results are looked up first and kept as soon as they are there;
        they must be JSON values then.
    keys : sequence of str
        One per task, with ``kept``; see :func:`forestcycle.parallel.kept.content_key`.
    stage : str
        What progress calls the work.
    progress : Progress, optional

    Returns
    -------
    Gathered

    Raises
    ------
    WorkerError
        If the workers are gone; it says where the results so far are kept.
    """
    values: dict[int, Result] = {}
    if kept is not None:
        found = ((place, kept.find(key)) for place, key in enumerate(keys))
        values = {place: value for place, value in found if value is not None}
    left = [place for place in range(len(tasks)) if place not in values]
    interrupted = False
    progress(Step(stage, len(values), len(tasks)))
    try:
        for done in executor.run(function, [tasks[place] for place in left], shared):
            place = left[done.position]
            values[place] = done.value if kept is None else kept.keep(keys[place], done.value)
            progress(Step(stage, len(values), len(tasks)))
    except KeyboardInterrupt:
        interrupted = True
    except WorkerError as error:
        raise WorkerError([*error.faults, *_to_resume(kept, len(values), len(tasks))]) from error
    return Gathered(dict(sorted(values.items())), interrupted)


def _to_resume(kept: KeptResults | None, done: int, total: int) -> list[Fault]:
    if kept is None:
        return []
    what = f"{done} of {total} results are kept"
    return [Fault(what, str(kept.folder), "run the same command again to do the others")]
