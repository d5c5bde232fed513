"""The crew-days of a year under way.

Days that the plan in force has stay what they are as long as the settings let
the crew work: spreading ``most_days`` and the storm reserve anew would shift
every day of the year for the sake of one.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.cycle.in_force import EMERGENCY, LOST, PlanInForce
from forestcycle.schedule import CrewCalendar, crew_calendar
from forestcycle.schedule.calendar import spread_evenly
from forestcycle.settings import Crew, CycleSettings

RESERVE = "storm reserve"
OPEN = ""


@dataclass(frozen=True)
class RevisedCalendar:
    """Working days, with those that cannot be planned.

    Attributes
    ----------
    calendar : CrewCalendar
        ``storm_reserve`` also marks days that are lost or given to emergency work.
    use : (k,) object
        ``storm reserve``, ``lost``, ``emergency``, or empty where open to planning.
    released : int
        Reserve days that were opened, because as many others went to a storm.
    """

    calendar: CrewCalendar
    use: NDArray[np.object_]
    released: int


def revised_calendar(
    settings: CycleSettings, plan: PlanInForce, lost: pd.DataFrame, from_day: date
) -> RevisedCalendar:
    """List every crew's working days as they are now.

    The storm reserve is what it is kept for: for each day ahead that a storm
    takes from a crew's planned days, its next reserve day after the storm is
    opened to the work put off.

    Parameters
    ----------
    settings : CycleSettings
    plan : PlanInForce
    lost : DataFrame
        ``crew date use``, from earlier revisions too.
    from_day : date

    Returns
    -------
    RevisedCalendar
    """
    base = crew_calendar(settings)
    crews, days, uses, released = [], [], [], 0
    for number, crew in enumerate(settings.crews):
        ours = base.crew == number
        fresh = {
            base.date_of(day): RESERVE if kept else OPEN
            for day, kept in zip(base.day[ours].tolist(), base.storm_reserve[ours], strict=True)
        }
        use = _of_crew(settings, crew, plan, fresh, from_day)
        released += _take_off(use, crew.name, plan, lost, from_day)
        for day in sorted(use):
            crews.append(number)
            days.append((day - base.first_day).days)
            uses.append(use[day])
    every = np.array(uses, dtype=object)
    calendar = CrewCalendar(
        first_day=base.first_day,
        days=base.days,
        crew=np.array(crews, dtype=np.int64),
        day=np.array(days, dtype=np.int64),
        storm_reserve=np.asarray(every != OPEN, dtype=np.bool_),
    )
    return RevisedCalendar(calendar, every, released)


def _of_crew(
    settings: CycleSettings,
    crew: Crew,
    plan: PlanInForce,
    fresh: dict[date, str],
    from_day: date,
) -> dict[date, str]:
    """Days of one crew: those in force that still are, and those that have come."""
    known = plan.crew_days[plan.crew_days["crew"] == crew.name]
    if not len(known):
        return {day: use for day, use in fresh.items() if day >= from_day}
    use = {
        day.date(): RESERVE if word == RESERVE else OPEN
        for day, word in zip(known["date"], known["use"], strict=True)
        if settings.works(crew, day.date())
    }
    if crew.most_days is None:
        return {day: use.get(day, OPEN) for day in sorted({*fresh, *use})}
    return _with_most_days(crew, use, from_day)


def _with_most_days(crew: Crew, use: dict[date, str], from_day: date) -> dict[date, str]:
    """Keep to a limit on a crew's days that was changed under way, spread over those ahead."""
    most = crew.most_days or 0
    if len(use) > most:
        ahead = sorted(day for day in use if day >= from_day)
        kept = spread_evenly(len(ahead), max(0, most - (len(use) - len(ahead))))
        gone = set(ahead) - {ahead[place] for place in kept.tolist()}
        return {day: word for day, word in use.items() if day not in gone}
    return use


def _take_off(
    use: dict[date, str], crew: str, plan: PlanInForce, lost: pd.DataFrame, from_day: date
) -> int:
    """Mark days that are lost; open a reserve day for each that a storm newly takes."""
    ours = lost[lost["crew"] == crew]
    before = set(plan.lost_days.loc[plan.lost_days["crew"] == crew, "date"])
    reserve_days = sorted(day for day, word in use.items() if word == RESERVE)
    newly = []
    for day, word in zip(ours["date"], ours["use"], strict=True):
        if day.date() not in use:
            continue
        if word == EMERGENCY and day not in before and use[day.date()] == OPEN:
            newly.append(day.date())
        use[day.date()] = EMERGENCY if word == EMERGENCY else LOST
    opened = 0
    for storm_day in sorted(newly):
        spare = [
            day
            for day in reserve_days
            if use[day] == RESERVE and day > storm_day and day >= from_day
        ]
        if spare:
            use[spare[0]] = OPEN
            opened += 1
    return opened
