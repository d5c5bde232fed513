"""Returns: what a crew says it did, from a typed-up crew list or from a device.

Two layouts are understood. A crew list has the printed columns and those the
crew filled in (``done actual_minutes dose_taken_percent initials remarks``);
its rows without an entry are stops nobody reported on. A plain table has one
row per visit in our own columns, with doses from 0 to 1.
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


def read_returns(path: Path) -> pd.DataFrame:
    """Read a file of returns.

    Parameters
    ----------
    path : Path
        CSV, GeoPackage or any other table that GDAL reads.

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
    source = Source(path)
    raw = read_layer(layer_info(source)).table
    raw.columns = [str(name).strip().casefold() for name in raw.columns]
    layout = CREW_LIST if "done" in raw.columns else PLAIN
    needed = [layout[name] for name in ("tree_id", "visited_on", "crew", "outcome")]
    faults = [
        Fault(f"no column {name!r}", str(path), f"columns there: {', '.join(raw.columns)}")
        for name in needed
        if name not in raw.columns
    ]
    if faults:
        raise InventoryError(faults)
    raw.insert(0, "row", np.arange(1, len(raw) + 1))
    if layout is CREW_LIST:
        raw = raw[_filled_in(raw)].reset_index(drop=True)
    return _converted(raw, layout)


def _filled_in(raw: pd.DataFrame) -> pd.Series:
    columns = [name for name in FILLED_IN if name in raw.columns]
    return pd.concat([text(raw[name]) != "" for name in columns], axis=1).any(axis=1)


def _converted(raw: pd.DataFrame, layout: Mapping[str, str]) -> pd.DataFrame:
    empty = pd.Series("", index=raw.index, dtype="str")
    cells = {name: raw.get(column, empty) for name, column in layout.items()}
    day, bad_day = dates(cells["visited_on"])
    wrong = pd.Series("", index=raw.index, dtype="str")
    wrong = wrong.mask(bad_day | day.isna(), "date missing or not understood; ")
    table = pd.DataFrame({"row": raw["row"], "visited_on": day.dt.normalize()})
    for name in TEXTS:
        table[name] = text(cells[name]).str.replace(BEHIND_AN_APOSTROPHE, "", regex=True)
    for name in NUMBERS:
        values, is_text = numbers(_without_percent_sign(cells[name]))
        wrong = wrong.mask(is_text, wrong + f"{layout[name]} is not a number; ")
        scale = 100.0 if layout is CREW_LIST and name in PERCENTAGES else 1.0
        with np.errstate(over="ignore"):  # infinite, and refused as such
            table[name] = np.round(np.asarray(values, dtype=np.float64) / scale, 6)
    outcome = table["outcome"].str.casefold().map(OUTCOMES)
    wrong = wrong.mask(outcome.isna(), wrong + "neither done, partly done nor skipped; ")
    table["outcome"] = outcome.fillna("").astype("str")
    return table.assign(unreadable=wrong.str.removesuffix("; "))


def _without_percent_sign(cells: pd.Series) -> pd.Series:
    if pd.api.types.is_numeric_dtype(cells):
        return cells
    return text(cells).str.removesuffix("%").str.strip()
