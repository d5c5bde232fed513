"""How long work tells what it is doing.

A stage calls ``progress(Step(...))`` as often as it likes; whoever started
the work decides what becomes of it. Library functions default to
:func:`silent`, the command line passes a :class:`ProgressLine`.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TextIO


@dataclass(frozen=True)
class Step:
    """One report of progress.

    Attributes
    ----------
    stage : str
        What is being done, in a few words.
    done, total : int
        Units finished and to do; ``total`` 0 where it is not known.
    worth, bound : float or None
        Best worth so far and the proven upper limit, while packing.
    seconds_left : float or None
        Expected, not promised.
    """

    stage: str
    done: int = 0
    total: int = 0
    worth: float | None = None
    bound: float | None = None
    seconds_left: float | None = None

    def __str__(self) -> str:
        parts = [self.stage]
        if self.total:
            parts.append(f"{self.done:,}/{self.total:,}")
        if self.worth is not None:
            parts.append(f"worth {self.worth:,.0f}")
        if self.bound is not None:
            parts.append(f"bound {self.bound:,.0f}")
        if self.worth is not None and self.bound:
            parts.append(f"gap {100 * (1 - self.worth / self.bound):.2f} %")
        if self.seconds_left is not None:
            parts.append(f"{self.seconds_left:,.0f} s left")
        return "  ".join(parts)


Progress = Callable[[Step], None]


def silent(step: Step) -> None:
    """Report nothing.

    Parameters
    ----------
    step : Step
    """


class ProgressLine:
    """Reports on one changing line, or in plain lines when not on a terminal.

    Parameters
    ----------
    stream : TextIO, optional
        Where to write; standard error by default.
    every_seconds : float
        Least time between two plain lines of the same stage.
    """

    def __init__(self, stream: TextIO | None = None, *, every_seconds: float = 5.0) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._on_terminal = self._stream.isatty()
        self._every_seconds = every_seconds
        self._last_stage = ""
        self._last_time = float("-inf")

    def __call__(self, step: Step) -> None:
        """Show a step, unless one of its stage was shown just now."""
        now = time.monotonic()
        new_stage = step.stage != self._last_stage
        pause = 0.1 if self._on_terminal else self._every_seconds
        if not new_stage and now - self._last_time < pause:
            return
        if self._on_terminal:
            self._stream.write(("\n" if new_stage and self._last_stage else "") + f"\r\x1b[K{step}")
        else:
            self._stream.write(f"{step}\n")
        self._stream.flush()
        self._last_stage, self._last_time = step.stage, now

    def close(self) -> None:
        """End the changing line."""
        if self._on_terminal and self._last_stage:
            self._stream.write("\n")
            self._stream.flush()
