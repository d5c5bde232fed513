"""Returns: what a crew says it did, from a typed-up crew list or from a device.

Two layouts are understood. A crew list has the printed columns and those the
crew filled in (``done actual_minutes dose_taken_percent initials remarks``);
its rows without an entry are stops nobody reported on. A plain table has one
row per visit in our own columns, with doses from 0 to 1.

Clerks and devices write what their programs make of it: decimal commas, dates
with slashes, moments in world time. What has one meaning is read; what has
two is not, and said.
"""

import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.convert import dates, numbers, text
from forestcycle.inventory.read import layer_info, read_layer
from forestcycle.inventory.source import Source

TEXTS = ("tree_id", "crew", "outcome", "reason", "work_left", "defects_seen", "note", "who")
NUMBERS = ("minutes", "dose", "planned_minutes", "planned_dose", "dose_limit")
OPTIONAL = {"reason": "reason", "work_left": "work_left", "defects_seen": "defects_seen"}
CREW_LIST: Mapping[str, str] = {
    "tree_id": "tree_id",
    "visited_on": "date",
    "crew": "crew",
    "outcome": "done",
    "minutes": "actual_minutes",
    "dose": "dose_taken_percent",
    "who": "initials",
    "note": "remarks",
    "planned_minutes": "minutes",
    "planned_dose": "dose_percent",
    "dose_limit": "dose_limit_percent",
    **OPTIONAL,
}
PLAIN: Mapping[str, str] = {name: name for name in ("visited_on", *TEXTS, *NUMBERS)}
FILLED_IN = ("done", "actual_minutes", "dose_taken_percent", "initials", "remarks", *OPTIONAL)
PERCENTAGES = ("dose", "planned_dose", "dose_limit")

OUTCOMES: Mapping[str, str] = {
    **dict.fromkeys(("done", "yes", "y", "x", "ok", "true", "1", "✓"), "done"),
    **dict.fromkeys(("partly", "partly done", "part", "half"), "partly done"),
    **dict.fromkeys(("skipped", "skip", "no", "n", "not done", "false", "0"), "skipped"),
}
BEHIND_AN_APOSTROPHE = re.compile(r"^'(?='*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20])")
"""The mark that crew lists put before cells which a spreadsheet would run."""
DECIMAL_COMMA = re.compile(r"^([+-]?)(0|\d+(?=,(?:\d{1,2}|\d{4,})$)),(\d+)$")
"""A comma that can only be the decimal one; in 1,250 it may part the thousands."""
YEAR_ALONE = r"\d{4}(?:\.0)?"
SLASHED = r"\d{1,2}/\d{1,2}/\d{4}.*"
WORLD_TIME = r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|\+00(?::?00)?)"
"""A moment as devices write it that keep no local time."""
EPOCH = pd.Timestamp(1970, 1, 2, tz="UTC")
"""Not every system knows the local time of an earlier moment."""


def read_returns(path: Path, *, day_first: bool | None = None) -> pd.DataFrame:
    """Read a file of returns.

    Parameters
    ----------
    path : Path
        CSV, GeoPackage or any other table that GDAL reads.
    day_first : bool, optional
        How 3/4/2027 is read; by default as the file's other dates say, and
        not at all where they do not say.

    Returns
    -------
    DataFrame
        One row per return: ``row`` (1-based, the header not counted),
        ``visited_on``, ``TEXTS``, ``NUMBERS`` (minutes; doses 0..1) and
        ``unreadable``: what could not be read in the row, empty if nothing.

    Raises
    ------
    InventoryError
        No such file, not a table, or a needed column is missing.
    """
    raw = read_layer(layer_info(Source(path))).table
    raw.columns = [str(name).strip().casefold() for name in raw.columns]
    layout = CREW_LIST if {"done", "outcome"}.intersection(raw.columns) == {"done"} else PLAIN
    _require_columns(path, list(raw.columns), layout)
    raw = raw[[name for name in layout.values() if name in raw.columns]]
    raw.insert(0, "row", np.arange(1, len(raw) + 1))
    if layout is CREW_LIST:
        raw = raw[_filled_in(raw)].reset_index(drop=True)
    return _converted(raw, layout, day_first=day_first)


def _require_columns(path: Path, there: list[str], layout: Mapping[str, str]) -> None:
    """Raise unless every column needed is there, and none that is read twice."""
    needed = [layout[name] for name in ("tree_id", "visited_on", "crew", "outcome")]
    faults = [
        Fault(f"no column {name!r}", str(path), f"columns there: {', '.join(there)}")
        for name in needed
        if name not in there
    ]
    faults += [
        Fault(f"several columns named {name!r}", str(path), "keep one, or rename the others")
        for name in layout.values()
        if there.count(name) > 1
    ]
    if faults:
        raise InventoryError(faults)


def _filled_in(raw: pd.DataFrame) -> pd.Series:
    columns = [name for name in FILLED_IN if name in raw.columns]
    return pd.concat([text(raw[name]) != "" for name in columns], axis=1).any(axis=1)


def _converted(
    raw: pd.DataFrame, layout: Mapping[str, str], *, day_first: bool | None
) -> pd.DataFrame:
    empty = pd.Series("", index=raw.index, dtype="str")
    cells = {name: raw.get(column, empty) for name, column in layout.items()}
    written = text(cells["visited_on"])
    day, _ = dates(_local_days(cells["visited_on"]), day_first=day_first)
    day = day.mask(written.str.fullmatch(YEAR_ALONE))
    table = pd.DataFrame({"row": raw["row"], "visited_on": day})
    wrong = _date_faults(written, day)
    for name in TEXTS:
        table[name] = text(cells[name]).str.replace(BEHIND_AN_APOSTROPHE, "", regex=True)
    for name in NUMBERS:
        plain, in_percent = _plain_number(cells[name], share=name in PERCENTAGES)
        values, is_text = numbers(plain)
        wrong = wrong.mask(is_text, wrong + f"{layout[name]} is not a number; ")
        in_percent |= layout is CREW_LIST and name in PERCENTAGES
        with np.errstate(over="ignore"):  # infinite, and refused as such
            table[name] = np.round(np.where(in_percent, values / 100, values), 6)
    outcome = table["outcome"].str.casefold().map(OUTCOMES)
    wrong = wrong.mask(outcome.isna(), wrong + "neither done, partly done nor skipped; ")
    table["outcome"] = outcome.fillna("").astype("str")
    return table.assign(unreadable=wrong.str.removesuffix("; "))


def _date_faults(cells: pd.Series, day: pd.Series) -> pd.Series:
    """Say of each row without a day why it has none."""
    wrong = cells[day.isna()]
    slashed = wrong.str.fullmatch(SLASHED).astype(bool)
    why = slashed.map({True: ": day or month first?; ", False: " not understood; "})
    fault = ("date " + wrong.map(repr) + why).mask(wrong == "", "no date; ")
    return fault.reindex(cells.index, fill_value="").astype("str")


def _local_days(cells: pd.Series) -> pd.Series:
    """Give moments in world time the day that they have at this computer's place.

    Devices keep moments in world time, in which a morning in Sydney and an
    evening in Seattle have another date than the crew's. Where all of them are
    midnight sharp, they are days that a program wrote as moments.
    """
    moments = _moments(cells)
    if (moments == moments.dt.normalize()).all():
        return cells
    days = cells.astype(object)
    moments = moments.dt.floor("s")
    days[moments.index] = [stamp.to_pydatetime().astimezone().date() for stamp in moments]
    return days


def _moments(cells: pd.Series) -> pd.Series:
    """Take the moments in world time from typed or written cells."""
    if not pd.api.types.is_datetime64_any_dtype(cells):
        written = text(cells)
        cells = pd.to_datetime(
            written[written.str.fullmatch(WORLD_TIME)], utc=True, errors="coerce"
        )
    elif str(cells.dt.tz) != "UTC":
        cells = cells.iloc[:0]
    return cells[cells >= EPOCH] if len(cells) else pd.Series([], dtype="datetime64[ns, UTC]")


def _plain_number(cells: pd.Series, *, share: bool) -> tuple[pd.Series, pd.Series]:
    """Put a point for a decimal comma, take per cent signs from shares, and say where they were."""
    if pd.api.types.is_numeric_dtype(cells):
        return cells, pd.Series(data=False, index=cells.index)
    bare = text(cells)
    in_percent = bare.str.endswith("%").astype(bool) & share
    bare = bare.mask(in_percent, bare.str.removesuffix("%").str.strip())
    return bare.str.replace(DECIMAL_COMMA, r"\1\2.\3", regex=True), in_percent
