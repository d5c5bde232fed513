"""What has happened since the plan was made, as the forester tells it."""

from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from forestcycle.cycle.in_force import EMERGENCY, LOST, TABLES
from forestcycle.errors import Fault, SettingsError, nearest_name
from forestcycle.settings import CycleSettings


@dataclass(frozen=True)
class Storm:
    """Days given to emergency work, both included; all crews where none is named."""

    first: date
    last: date
    crews: tuple[str, ...] = ()


@dataclass(frozen=True)
class Facts:
    """Facts that stand neither in ``cycle.toml`` nor in the books.

    Attributes
    ----------
    from_day : date
        First day that can still be planned.
    lost_days : tuple of (date, str)
        Days on which a crew cannot work.
    crews_gone : tuple of (str, date)
        Crews, and the first day on which each is gone.
    storms : tuple of Storm
    """

    from_day: date
    lost_days: tuple[tuple[date, str], ...] = ()
    crews_gone: tuple[tuple[str, date], ...] = ()
    storms: tuple[Storm, ...] = ()

    def __str__(self) -> str:
        told = [f"lost: {crew} on {day}" for day, crew in self.lost_days]
        told += [f"gone: {crew} from {day}" for crew, day in self.crews_gone]
        for storm in self.storms:
            told.append(
                f"storm: {', '.join(storm.crews) or 'all crews'} {storm.first} to {storm.last}"
            )
        return "; ".join(told)


def lost_days(settings: CycleSettings, known: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """List every crew-day that is lost or given to emergency work.

    Parameters
    ----------
    settings : CycleSettings
    known : DataFrame
        Those of earlier revisions.
    facts : Facts

    Returns
    -------
    DataFrame
        ``crew date use``, each crew-day once; the earlier word stands.

    Raises
    ------
    SettingsError
        Unknown crews, days outside the plan or on which the crew does not
        work, and storms that end before they begin: all of them at once.
    """
    faults = _faults(settings, facts)
    if faults:
        raise SettingsError(faults)
    first, last = settings.city.year_start, settings.city.year_end
    names = [crew.name for crew in settings.crews]
    rows = [(crew, day, LOST) for day, crew in facts.lost_days]
    for crew, gone in facts.crews_gone:
        rows += [(crew, day, LOST) for day in _days(max(first, gone), last)]
    for storm in facts.storms:
        for crew in storm.crews or names:
            rows += [(crew, day, EMERGENCY) for day in _days(storm.first, storm.last)]
    told = pd.DataFrame(rows, columns=["crew", "date", "use"])
    told["date"] = pd.to_datetime(told["date"])
    told = told.astype(dict(TABLES["lost_days"]))
    parts = [part for part in (known, told) if len(part)]
    table = pd.concat(parts, ignore_index=True) if parts else told
    return table.drop_duplicates(["crew", "date"], ignore_index=True)


def _days(first: date, last: date) -> list[date]:
    return [first + timedelta(days=day) for day in range((last - first).days + 1)]


def _faults(settings: CycleSettings, facts: Facts) -> list[Fault]:
    crews = {crew.name: crew for crew in settings.crews}
    named = [
        *[("--lost-day", crew) for _, crew in facts.lost_days],
        *[("--crew-gone", crew) for crew, _ in facts.crews_gone],
        *[("--storm-crew", crew) for storm in facts.storms for crew in storm.crews],
    ]
    faults = [
        Fault(f"there is no crew {name!r}", where, nearest_name(name, list(crews)))
        for where, name in named
        if name not in crews
    ]
    days = [
        ("--from", facts.from_day),
        *[("--lost-day", day) for day, _ in facts.lost_days],
        *[("--crew-gone", day) for _, day in facts.crews_gone],
        *[("--storm", day) for storm in facts.storms for day in (storm.first, storm.last)],
    ]
    span = settings.city
    faults += [
        Fault(
            f"{day} lies outside the plan, {span.year_start} to {span.year_end}",
            where,
            "correct the day",
        )
        for where, day in days
        if not span.year_start <= day <= span.year_end
    ]
    faults += [
        Fault(f"{crew!r} does not work on {day} anyway", "--lost-day", "correct the day or crew")
        for day, crew in facts.lost_days
        if crew in crews and not settings.works(crews[crew], day)
    ]
    faults += [
        Fault(f"ends on {storm.last}, before it begins", "--storm", "give the first day first")
        for storm in facts.storms
        if storm.last < storm.first
    ]
    return faults
