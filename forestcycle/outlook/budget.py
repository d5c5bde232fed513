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
        Bits of what the crew can do, as in ``schedule.build.SKILL_BIT``.
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
class Budget:
    """Limits of every year.

    Attributes
    ----------
    name : str
        As shown, such as ``80 %`` or ``4 crews``.
    cents : int or None
        Money per year, over crew-days and direct costs; None for no limit.
    most_crews : int or None
        Crews of all kinds together; None for no limit.
    """

    name: str
    cents: int | None = None
    most_crews: int | None = None
