"""What a year may cost, and the crews that can be hired for it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class CrewKind:
    """Crews that are alike.

    Attributes
    ----------
    name : str
    skill : int
        Bits of what the crew can do, as in ``schedule.crew_facts.SKILL_BIT``.
    now : int
        Crews of this kind in ``cycle.toml``.
    days : int
        Crew-days of one crew in a year, storm reserve taken off.
    minutes_per_day : float
        Shift less break and set-up.
    day_cost_cents : int
    """

    name: str
    skill: int
    now: int
    days: int
    minutes_per_day: float
    day_cost_cents: int


@dataclass(frozen=True)
class CrewTerms:
    """How crews are hired from the second year on.

    Attributes
    ----------
    years : int
        Years for which a crew is hired at a time.
    least_paid : float
        Share of its days that a hired crew is paid for in any case: 0 where
        only days worked are paid, as the plan does, 1 for crews on the payroll.
    """

    years: int = 3
    least_paid: float = 0.0


AS_PLANNED = CrewTerms()
"""Crews are paid by the day worked, as the plan pays them."""


@dataclass(frozen=True)
class Budget:
    """Limits of every year.

    Attributes
    ----------
    name : str
        As shown, such as ``80 %`` or ``4 crews``.
    cents : tuple of int or None
        Money of the first, second, ... year, over crew-days and direct costs;
        the last one stands for all years after it. None for no limit.
    most_crews : int or None
        Crews of all kinds together; None for no limit.
    """

    name: str
    cents: tuple[int, ...] | None = None
    most_crews: int | None = None

    def of_years(self, years: int) -> FloatArray:
        """Return the money of each year, shape (years,); infinite without a limit.

        Parameters
        ----------
        years : int

        Returns
        -------
        (years,) float64
            In cents; the last year given holds for all later ones.
        """
        if self.cents is None:
            return np.full(years, np.inf)
        last = len(self.cents) - 1
        return np.array([self.cents[min(year, last)] for year in range(years)], dtype=np.float64)
