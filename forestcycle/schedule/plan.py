"""What the packer answers."""

from dataclasses import dataclass

from forestcycle.schedule.bound import Bound
from forestcycle.schedule.problem import IntArray


@dataclass(frozen=True)
class Plan:
    """Ordered stops of every crew-day.

    Attributes
    ----------
    crew_day, order, tree : (s,) int64
        One row per stop, sorted by crew-day and order; ``order`` counts from 0
        and ``tree`` is a position in the problem's arrays.
    worth : float
    bound : Bound or None
        Proven upper limit on any plan's worth, with its prices; None where
        none was asked for.
    interrupted : bool
        The user stopped the search; this is the best plan until then.
    rounds : int
        Rounds of improvement that were run.
    seconds : float
    seed : int
    unpacked : int
        Crew-days without stops because time ended before they were packed.
    """

    crew_day: IntArray
    order: IntArray
    tree: IntArray
    worth: float
    bound: Bound | None
    interrupted: bool
    rounds: int
    seconds: float
    seed: int
    unpacked: int = 0

    @property
    def gap(self) -> float | None:
        """1 - worth / bound, or None without a bound."""
        if self.bound is None or self.bound.value <= 0:
            return None
        return max(0.0, 1.0 - self.worth / self.bound.value)
