"""iCalendar by RFC 5545; section numbers stand beside each rule."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.crew_day import used_crew_days
from forestcycle.publish.icalendar import escape, fold, write_icalendar
from forestcycle.publish.output import Edition


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    return write_icalendar(Edition(plan, tmp_path_factory.mktemp("calendars")))


def content_lines(raw: bytes) -> list[str]:
    """Unfold (3.1): every line ends in CRLF and has at most 75 octets."""
    assert raw.endswith(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    return raw.decode("utf-8").replace("\r\n ", "").split("\r\n")[:-1]


def unescape(text: str) -> str:
    """Read a text value (3.3.11)."""
    return re.sub(r"\\([\\;,nN])", lambda m: "\n" if m[1] in "nN" else m[1], text)


def events(raw: bytes) -> list[dict[str, str]]:
    lines = content_lines(raw)
    assert lines[0] == "BEGIN:VCALENDAR"  # 3.4
    assert lines[-1] == "END:VCALENDAR"
    assert "VERSION:2.0" in lines  # 3.7.4
    assert any(line.startswith("PRODID:") for line in lines)  # 3.7.3
    found, current = [], None
    for line in lines:
        if line == "BEGIN:VEVENT":
            current = {}
        elif line == "END:VEVENT":
            found.append(current)
            current = None
        elif current is not None:
            name, value = line.split(":", 1)
            assert name not in current
            current[name.split(";")[0]] = value
    return found


def test_every_crew_day_is_an_event(plan, written):
    found = [event for path in written for event in events(path.read_bytes())]
    days = used_crew_days(plan)
    reserve = int((plan.crew_days["use"] == "storm reserve").sum())
    assert len(found) == len(days) + reserve
    for event in found:  # 3.6.1: UID and DTSTAMP must, DTSTART must without METHOD
        assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY"} <= set(event)
        assert re.fullmatch(r"\d{8}T\d{6}Z", event["DTSTAMP"])  # 3.8.7.2
        assert event["DTSTART"] < event["DTEND"]
    assert len({event["UID"] for event in found}) == len(found)


def test_an_event_lists_its_stops(plan, written):
    described = [
        unescape(event.get("DESCRIPTION", ""))
        for path in written
        for event in events(path.read_bytes())
    ]
    for day in used_crew_days(plan):
        stops = [f"{row['stop']}. {row['arrive']} {row['address']}" for row in day.rows]
        assert any(all(stop in text for stop in stops) for text in described)


@given(st.text(st.characters(blacklist_categories=["Cs", "Cc"])))
def test_folding_can_be_undone_and_splits_no_character(text):
    parts = list(fold(f"SUMMARY:{text}"))
    assert all(len(part.encode()) <= 75 for part in parts)
    assert all(part.startswith(" ") for part in parts[1:])
    assert parts[0] + "".join(part[1:] for part in parts[1:]) == f"SUMMARY:{text}"


@given(st.text(st.sampled_from("ab\\;,\nn")))
def test_escaping_can_be_undone(text):
    assert unescape(escape(text)) == text
    assert "\n" not in escape(text)
