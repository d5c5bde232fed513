"""Who packs territories, and who goes on when a cluster is lost."""

from collections.abc import Sequence

from forestcycle.errors import WorkerError
from forestcycle.parallel import Executor, Gathered, Shared, Task, Threads, gather
from forestcycle.progress import Progress, Step
from forestcycle.schedule.pack_territory import Packed, TerritoryTask, pack_territory
from forestcycle.schedule.problem import Problem


class Packers:
    """Whoever packs the territories: the executor, or this machine's threads if it fails."""

    def __init__(
        self, problem: Problem, executor: Executor | None, threads: Threads, progress: Progress
    ) -> None:
        self._problem = problem
        self._threads = threads
        self._progress = progress
        self._use(executor or threads)

    def _use(self, executor: Executor) -> None:
        self._executor = executor
        self._shared: Shared[Problem] = executor.share(self._problem)

    @property
    def workers(self) -> int:
        """How many territories are packed at the same time."""
        return self._executor.workers

    def pack(self, tasks: Sequence[Task[TerritoryTask]]) -> Gathered[Packed]:
        """Pack territories; what a lost cluster did not bring home is packed here.

        Parameters
        ----------
        tasks : sequence of Task of TerritoryTask

        Returns
        -------
        Gathered of Packed
        """
        try:
            return gather(self._executor, pack_territory, tasks, self._shared)
        except WorkerError as error:
            self._progress(Step(f"{error}; packing goes on on this machine"))
            self._use(self._threads)
            return gather(self._executor, pack_territory, tasks, self._shared)
