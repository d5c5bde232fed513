"""Each crew's year as an iCalendar file (RFC 5545), for any calendar program."""

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from forestcycle.inventory.atomic import write_bytes_atomically
from forestcycle.publish.crew_day import CrewDay, day_figures
from forestcycle.publish.crew_rows import dose_in_words
from forestcycle.publish.names import safe_name
from forestcycle.publish.output import Edition, Output
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import plain
from forestcycle.settings import CycleSettings

FOLDER = "sheets"
MOST_OCTETS = 75
"""Of a line, without its end (RFC 5545, 3.1)."""
STORM_RESERVE = "storm reserve"


def calendar_path(crew: str) -> str:
    """Name a crew's calendar.

    Parameters
    ----------
    crew : str
        As the plan has it.

    Returns
    -------
    str
        Relative to the plan's folder.
    """
    return f"{FOLDER}/{safe_name(crew)}/calendar.ics"


def write_icalendar(edition: Edition) -> list[Path]:
    """Write ``sheets/<crew>/calendar.ics`` for every crew with a day's work.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
    """
    plan = edition.plan
    settings = settings_of(plan)
    by_crew: dict[str, list[CrewDay]] = {}
    for day in edition.crew_days:
        by_crew.setdefault(day.crew, []).append(day)
    spare = plan.crew_days[plan.crew_days["use"] == STORM_RESERVE]
    written = []
    for crew, days in by_crew.items():
        reserve = spare.loc[spare["crew"].astype(str) == crew, "date"].dt.date.tolist()
        path = edition.folder / calendar_path(crew)
        write_bytes_atomically(path, calendar(days, reserve, settings))
        written.append(path)
    return written


def calendar(days: list[CrewDay], reserve: list[date], settings: CycleSettings) -> bytes:
    """Make one crew's calendar.

    Parameters
    ----------
    days : list of CrewDay
        Of one crew, at least one.
    reserve : list of date
        Its days kept free for storms.
    settings : CycleSettings

    Returns
    -------
    bytes
        Times are local ("floating"). Ids depend on city, crew and date alone, so that a new plan
        updates the old entries; the time stamp is the day of the assessment, so that the same
        plan gives the same file.
    """
    city = plain(settings.city.name)
    stamp = f"DTSTAMP:{settings.city.assessment_day:%Y%m%d}T000000Z"
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//forestcycle//crew calendar//EN",
        "CALSCALE:GREGORIAN",
    ]
    for day in days:
        lines += ["BEGIN:VEVENT", _uid(city, day.crew_day_id), stamp]
        lines += _event(day, settings.publish.units)
        lines.append("END:VEVENT")
    for day_off in reserve:
        crew_day_id = f"{day_off.isoformat()} {days[0].crew}"
        lines += ["BEGIN:VEVENT", _uid(city, crew_day_id), stamp]
        lines += _reserve_event(day_off)
        lines.append("END:VEVENT")
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in fold(line)).encode("utf-8")


def _uid(city: str, crew_day_id: str) -> str:
    return f"UID:{uuid5(NAMESPACE_URL, f'forestcycle:{city}:{crew_day_id}')}"


def _event(day: CrewDay, units: str) -> list[str]:
    first, last = day.rows[0]["address"], day.rows[-1]["address"]
    stops = [
        f"{row['stop']}. {row['arrive']} {row['address']}, {row['common_name'] or row['species']}: "
        f"{dose_in_words(row)} (limit {row['dose_limit_percent']} %), {row['minutes']} min"
        for row in day.rows
    ]
    return [
        f"DTSTART:{_local(day.date, day.leaves)}",
        f"DTEND:{_local(day.date, day.returns)}",
        f"SUMMARY:{escape(f'Pruning: {first} to {last}')}",
        f"LOCATION:{escape(day.depot)}",
        f"DESCRIPTION:{escape(chr(10).join([day_figures(day, units), *stops]))}",
    ]


def _reserve_event(day: date) -> list[str]:
    return [
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}",
        "SUMMARY:Storm reserve",
        "TRANSP:TRANSPARENT",
    ]


def _local(day: date, clock: str) -> str:
    return f"{day:%Y%m%d}T{clock.replace(':', '')}00"


def escape(text: str) -> str:
    """Write a text value (RFC 5545, 3.3.11).

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    for plain_mark, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(plain_mark, escaped)
    return text


def fold(line: str) -> Iterator[str]:
    """Break a content line so that no part is longer than 75 octets (RFC 5545, 3.1).

    Parameters
    ----------
    line : str

    Yields
    ------
    str
        Every part but the first starts with a space; no character is split.
    """
    octets, start, room = line.encode("utf-8"), 0, MOST_OCTETS
    before = ""
    while len(octets) - start > room:
        end = start + room
        while octets[end] & 0xC0 == 0x80:  # within a character (RFC 3629, 3)
            end -= 1
        yield before + octets[start:end].decode("utf-8")
        start, room, before = end, MOST_OCTETS - 1, " "
    yield before + octets[start:].decode("utf-8")


OUTPUT = Output("calendars", FOLDER, write_icalendar, "calendars and notices")
