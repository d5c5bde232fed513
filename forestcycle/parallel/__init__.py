"""Many independent tasks at once: in threads, in processes, or on a cluster.

One interface, :class:`Executor`, with three ways to carry it out. Tasks are
pure: the value of each depends on its argument and on what is shared, so all
three give the same values.
"""

from forestcycle.parallel.choice import open_executor
from forestcycle.parallel.cluster import Cluster
from forestcycle.parallel.gather import Gathered, gather
from forestcycle.parallel.kept import KeptResults
from forestcycle.parallel.processes import Processes
from forestcycle.parallel.task import Done, Executor, Shared, Task
from forestcycle.parallel.threads import Threads

__all__ = [
    "Cluster",
    "Done",
    "Executor",
    "Gathered",
    "KeptResults",
    "Processes",
    "Shared",
    "Task",
    "Threads",
    "gather",
    "open_executor",
]
