"""Everything that a planned year consists of, before it is written down."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forestcycle.cycle.city import City
from forestcycle.cycle.crew_day_ids import crew_day_ids
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
        ids = crew_day_ids(self.city, self.problem.crew, self.problem.date)
        return np.array(ids, dtype=np.str_)
