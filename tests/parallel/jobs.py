"""Functions that workers import by name, some of them mischievous."""

import os
import time
from pathlib import Path

import numpy as np

from forestcycle.errors import Fault, PlanError


def times(factor, number):
    return factor * number


def sum_of(arrays, row):
    return float(arrays["table"][row].sum()) + len(arrays["words"])


def is_writeable(arrays, _):
    return bool(arrays["table"].flags.writeable)


def pid(_, seconds):
    time.sleep(seconds)
    return os.getpid()


def slow_for_some(_, number):
    time.sleep(0.8 if number == 0 else 0.02)
    return number


def dies_once(folder, number):
    """Kill the own worker at the first try of number 3."""
    mark = Path(folder) / "died"
    if number == 3 and not mark.exists():
        mark.touch()
        os._exit(9)
    return number * 10


def dies_always(_, number):
    if number == 2:
        os._exit(9)
    return number


def complains(_, number):
    if number == 1:
        raise PlanError(Fault("no such crew", "crews", "add one"))
    return number


def divides(_, number):
    return 1 / number


class UnsendableError(Exception):
    def __init__(self, first, second):
        super().__init__(f"{first} and {second}")


def raises_unsendable(_, number):
    raise UnsendableError(number, "more")


def random_walk(_, seed):
    return np.random.default_rng(seed).standard_normal(1_000).cumsum()


def stamps(folder, number):
    """Leave a mark for every time that this is really carried out."""
    (Path(folder) / f"{number}-{time.monotonic_ns()}").touch()
    time.sleep(0.1)
    return {"number": number, "half": number / 2}
