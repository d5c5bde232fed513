"""Which executor a command uses."""

from forestcycle.parallel.cluster import Cluster
from forestcycle.parallel.processes import Processes
from forestcycle.parallel.task import Executor


def open_executor(cluster: str | None = None, *, workers: int | None = None) -> Executor:
    """Open the cluster at an address, or else processes of this machine.

    Parameters
    ----------
    cluster : str, optional
        Address of a Dask scheduler, such as ``tcp://10.0.0.5:8786``.
    workers : int, optional
        Processes on this machine; one per core by default.

    Returns
    -------
    Executor
        To be used as a context manager.

    Raises
    ------
    SettingsError
        If the package for clusters is not installed.
    WorkerError
        If no scheduler answers, or it has no workers that can do the work.
    """
    return Processes(workers) if cluster is None else Cluster(cluster)
