"""Who works on which day, and which days are kept free for storms."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from forestcycle.errors import Fault, PlanError
from forestcycle.schedule.problem import BoolArray, IntArray
from forestcycle.settings import Crew, CycleSettings


@dataclass(frozen=True)
class CrewCalendar:
    """Every crew's working days, crew by crew and day by day.

    Attributes
    ----------
    first_day : date
        Day 0 of ``day``.
    days : int
        Days from the first to the last day of the plan, both included.
    crew : (k,) int64
        Position in ``settings.crews``.
    day : (k,) int64
        Days since ``first_day``.
    storm_reserve : (k,) bool
        Kept free; not to be planned.
    """

    first_day: date
    days: int
    crew: IntArray
    day: IntArray
    storm_reserve: BoolArray

    def date_of(self, day: int) -> date:
        """Calendar date of a day number.

        Parameters
        ----------
        day : int
            Since ``first_day``.

        Returns
        -------
        date
        """
        return self.first_day + timedelta(days=int(day))


def crew_calendar(settings: CycleSettings) -> CrewCalendar:
    """List every crew's working days in the plan's span.

    Days are taken from the calendar's workdays less holidays and the crew's
    own days off. Of these, ``most_days`` spread evenly are kept where a crew
    has such a limit, and the storm reserve, spread evenly again, is marked.

    Parameters
    ----------
    settings : CycleSettings

    Returns
    -------
    CrewCalendar

    Raises
    ------
    PlanError
        If there is no crew, or a crew has no working day.
    """
    if not settings.crews:
        raise PlanError(Fault("there is no crew", "[[crews]]", "describe at least one crew"))
    first = settings.city.year_start
    span = (settings.city.year_end - first).days + 1
    working = [_working_days(settings, crew, first, span) for crew in settings.crews]
    idle = [crew.name for crew, days in zip(settings.crews, working, strict=True) if not len(days)]
    if idle:
        raise PlanError(
            [
                Fault(
                    f"crew {name!r} has no working day from {first} to {settings.city.year_end}",
                    "[[crews]]",
                    "check first_day, last_day, workdays, days_off and holidays",
                )
                for name in idle
            ]
        )
    reserve = [_storm_reserve(len(days), settings.calendar.storm_reserve) for days in working]
    return CrewCalendar(
        first_day=first,
        days=span,
        crew=np.repeat(np.arange(len(working)), [len(days) for days in working]),
        day=np.concatenate(working),
        storm_reserve=np.concatenate(reserve),
    )


def _working_days(settings: CycleSettings, crew: Crew, first: date, span: int) -> IntArray:
    days = np.array(
        [day for day in range(span) if settings.works(crew, first + timedelta(days=day))],
        dtype=np.int64,
    )
    if crew.most_days is None or crew.most_days >= len(days):
        return days
    return days[spread_evenly(len(days), crew.most_days)]


def _storm_reserve(days: int, share: float) -> BoolArray:
    reserve = np.zeros(days, dtype=np.bool_)
    reserve[spread_evenly(days, round(share * days))] = True
    return reserve


def spread_evenly(length: int, count: int) -> IntArray:
    """Choose positions at equal spacing, half a step from either end.

    Parameters
    ----------
    length, count : int
        ``count`` of the positions 0..length-1 are chosen, ``count <= length``.

    Returns
    -------
    (count,) int64
        Rising positions.
    """
    steps = (np.arange(count) + 0.5) * length / max(count, 1)
    return steps.astype(np.int64)
