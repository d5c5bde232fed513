"""Everything that a planned year consists of, before it is written down."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forestcycle.cycle.city import City
from forestcycle.practice import Assessment
from forestcycle.schedule.calendar import CrewCalendar
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.timetable import Timetable
from forestcycle.travel import Travel


@dataclass(frozen=True)
class Outcome:
    """A plan with all that it was made from.

    Attributes
    ----------
    city, assessment, travel, calendar, problem, plan, timetable
        As the rooms made them.
    reason, reason_text : (n,) str
        Per inventory tree: why it is not planned, as a word and with its
        facts; empty where it is.
    """

    city: City
    assessment: Assessment
    travel: Travel
    calendar: CrewCalendar
    problem: Problem
    plan: Plan
    timetable: Timetable
    reason: NDArray[np.str_]
    reason_text: NDArray[np.str_]

    @property
    def stop_row(self) -> NDArray[np.int64]:
        """Inventory row of every stop."""
        return self.problem.tree[self.plan.tree]

    @property
    def crew_day_names(self) -> NDArray[np.str_]:
        """``crew_day_id`` of every crew-day of the problem."""
        return np.array(
            [
                self.crew_day_name(int(crew), int(day))
                for crew, day in zip(self.problem.crew, self.problem.date, strict=True)
            ],
            dtype=np.str_,
        )

    def crew_day_name(self, crew: int, day: int) -> str:
        """Name of one crew's day, such as ``2027-03-15 North crew``.

        Parameters
        ----------
        crew : int
            Position in the settings.
        day : int
            Days since the year's first.

        Returns
        -------
        str
        """
        return f"{self.calendar.date_of(day)} {self.city.settings.crews[crew].name}"
