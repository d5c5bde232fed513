"""One call of the packing: how long it may take, and how far it has come."""

import time
from dataclasses import dataclass, field

import numpy as np

from forestcycle.progress import Progress

SHARE_FOR_BOUND = 0.2
SHARE_FOR_CHOICE = 0.12
SHARE_FOR_LAST_LOOK = 0.05
SHARE_FOR_ROUTES = 0.35


@dataclass
class Run:
    """Clock, random numbers and stop sign of one call."""

    seconds: float | None
    rounds: int | None
    seed: int
    workers: int
    progress: Progress
    routed: bool = False
    began: float = field(default_factory=time.monotonic)
    stopped: bool = False

    @property
    def elapsed(self) -> float:
        """Seconds since the call began."""
        return time.monotonic() - self.began

    def share_done(self, rounds: int) -> float:
        """Share of the rounds, or else of the time for them, that has passed.

        Parameters
        ----------
        rounds : int
            Finished so far.

        Returns
        -------
        float
            1 or more once it is time to end.
        """
        if self.rounds is not None:
            return rounds / self.rounds
        return self.elapsed / max(self.search_ends, 1e-9)

    @property
    def left(self) -> float | None:
        """Seconds until the call should end; None without a clock."""
        return None if self.seconds is None else max(0.0, self.seconds - self.elapsed)

    @property
    def choice_ends(self) -> float:
        """Elapsed seconds at which the plan is chosen, and a last look at it begins."""
        return np.inf if self.seconds is None else self.seconds * (1 - SHARE_FOR_LAST_LOOK) - 0.3

    @property
    def bound_ends(self) -> float | None:
        """Seconds after which the bound is not tightened any more; None without a clock."""
        return None if self.seconds is None else SHARE_FOR_BOUND * self.seconds

    @property
    def search_ends(self) -> float:
        """Elapsed seconds at which the rounds end."""
        pricing = SHARE_FOR_ROUTES * (self.seconds or 0.0) if self.routed else 0.0
        return self.routes_end - pricing

    @property
    def routes_end(self) -> float:
        """Elapsed seconds at which the choice begins."""
        return np.inf if self.seconds is None else self.seconds * (1 - SHARE_FOR_CHOICE) - 0.2
