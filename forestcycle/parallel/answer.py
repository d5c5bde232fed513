"""What a worker sends back: the value, or what went wrong, in a form that travels."""

import pickle
from collections.abc import Callable
from dataclasses import dataclass

from forestcycle.parallel.task import Argument, Result, Value, with_name


@dataclass(frozen=True)
class Failure:
    """What a task raised."""

    error: Exception


def answer(
    function: Callable[[Value, Argument], Result], value: Value, argument: Argument
) -> Result | Failure:
    """Carry out one task; an exception becomes part of the answer.

    Parameters
    ----------
    function : callable
        Takes the shared value and the task's argument.
    value, argument : object

    Returns
    -------
    object or Failure
        What ``function`` gives, or what it raised.
    """
    try:
        return function(value, argument)
    except Exception as error:  # noqa: BLE001 - raised again where the answer is read
        return Failure(sendable(error))


def value_of(answer: Result | Failure, name: str) -> Result:
    """Give the value of an answer.

    Parameters
    ----------
    answer : object or Failure
    name : str
        The task's, for the message of an error.

    Returns
    -------
    object

    Raises
    ------
    Exception
        What the task raised, with its name.
    """
    if isinstance(answer, Failure):
        raise with_name(answer.error, name)
    return answer


def sendable(error: Exception) -> Exception:
    """Give the error itself where it survives pickling, else its text.

    Parameters
    ----------
    error : Exception

    Returns
    -------
    Exception
        The same, or a ``RuntimeError`` with its class and text.
    """
    try:
        pickle.loads(pickle.dumps(error))  # noqa: S301 - made on this very line
    except Exception:  # noqa: BLE001 - a class of any package may refuse in its own way
        return RuntimeError(f"{type(error).__name__}: {error}")
    return error
