"""What is asked of an executor, and what it hands back."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, Self, TypeVar

from forestcycle.errors import Fault, FaultList

Argument = TypeVar("Argument")
Result = TypeVar("Result")
Value = TypeVar("Value")
Given = TypeVar("Given", covariant=True)


@dataclass(frozen=True)
class Task(Generic[Argument]):
    """One independent piece of work.

    Attributes
    ----------
    name : str
        What an error message calls it.
    argument : object
        What this task alone needs; anything large belongs in what is shared.
    """

    name: str
    argument: Argument


@dataclass(frozen=True)
class Done(Generic[Result]):
    """A finished task.

    Attributes
    ----------
    position : int
        Of the task in the sequence that was handed over.
    value : object
        What the function returned.
    """

    position: int
    value: Result


class Shared(Protocol[Given]):
    """A value that reaches every worker once, however many tasks use it."""

    def open(self) -> Given:
        """Give the value, in whichever process this is called.

        Returns
        -------
        object
        """
        ...


class Executor(Protocol):
    """Carries out tasks; a context manager that lets its workers go at the end."""

    @property
    def workers(self) -> int:
        """How many tasks run at the same time."""
        ...

    def share(self, value: Value) -> Shared[Value]:
        """Send a value to the workers ahead of the tasks that use it.

        Parameters
        ----------
        value : object

        Returns
        -------
        Shared
            For :meth:`run`.
        """
        ...

    def run(
        self,
        function: Callable[[Value, Argument], Result],
        tasks: Sequence[Task[Argument]],
        shared: Shared[Value],
    ) -> Iterator[Done[Result]]:
        """Call ``function(shared value, argument)`` for every task.

        Parameters
        ----------
        function : callable
            Defined at the top level of a module, without side effects.
        tasks : sequence of Task
        shared : Shared
            From :meth:`share` of this executor.

        Yields
        ------
        Done
            In the order in which tasks finish.

        Raises
        ------
        WorkerError
            If the workers are gone, or a task's worker died every time.
        KeyboardInterrupt
            After Ctrl-C, once the tasks that cannot be stopped have been yielded.
        Exception
            What a task raised, with the task's name.
        """
        ...

    def __enter__(self) -> Self: ...

    def __exit__(self, *exception: object) -> None: ...


def with_name(error: BaseException, name: str) -> BaseException:
    """Say in an exception which task raised it.

    Faults get the name as the first part of their place; other exceptions
    carry it as a note.

    Parameters
    ----------
    error : BaseException
    name : str
        The task's.

    Returns
    -------
    BaseException
        Of the same class.
    """
    if isinstance(error, FaultList):
        return type(error)([_with_name(fault, name) for fault in error.faults])
    error.add_note(f"in {name}")
    return error


def _with_name(fault: Fault, name: str) -> Fault:
    place = f"{name}: {fault.where}" if fault.where else name
    return Fault(fault.what, place, fault.remedy)
