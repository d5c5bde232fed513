"""Compare plan and actual, and propose a labour table; nothing is put in force."""

import io
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.errors import Fault, StoreError
from forestcycle.fieldwork.books import read_books
from forestcycle.fieldwork.calibration import EVERYONE, calibration_table, crews_apart
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.source import books_path
from forestcycle.inventory.spreadsheet import spreadsheet_text
from forestcycle.practice.installed import tables_folder
from forestcycle.practice.labour import LABOUR_COLUMNS
from forestcycle.practice.tables import load_table
from forestcycle.progress import Progress, silent

PER_MINUTE = "brush_pounds_per_minute"
"""Falls as minutes rise, so that the brush of a tree stays the same."""
GONE = "no longer in the inventory"
"""In place of an age class."""


@dataclass(frozen=True)
class Calibrated:
    """The comparison, and what came of it.

    Attributes
    ----------
    table : DataFrame
        From :func:`~forestcycle.fieldwork.calibration.calibration_table`.
    proposed : Path or None
        Folder of the proposed table; None where there is too little data.
    apart : DataFrame
        Rows of crews that the proposed table does not fit.
    in_force : Path or None
        The city's own tables; None for those that ship with forestcycle.
    """

    table: pd.DataFrame
    proposed: Path | None
    apart: pd.DataFrame
    in_force: Path | None


def calibrate_city(
    city: City,
    out: Path,
    *,
    since: date | None = None,
    seed: int = 1,
    progress: Progress = silent,
) -> Calibrated:
    """Compare the returns on record with what was planned.

    Parameters
    ----------
    city : City
    out : Path
        Folder for ``calibration.csv`` and, with enough data, ``labour.csv``:
        the labour table in force with its minutes times the factor of all
        crews and classes.
    since : date, optional
        Only visits from this day on. Needed once a proposed table was put in
        force: older visits were planned with the table before it.
    seed : int
        Of the bootstrap.
    progress : Progress, optional

    Returns
    -------
    Calibrated

    Raises
    ------
    StoreError
        If nothing was recorded, the folder holds the tables in force, or it
        cannot be written to.
    """
    folder = tables_folder(city.settings.practice.tables, city.folder)
    if folder is not None and folder.resolve() == out.resolve():
        raise StoreError(Fault("holds the tables in force", str(out), "name another with --out"))
    books = books_path(city.settings, city.folder)
    visits = read_books(books).visits
    if since is not None:
        visits = visits[visits["visited_on"] >= pd.Timestamp(since)]
    if not len(visits):
        days = "" if since is None else f" from {since} on"
        fault = Fault(f"no returns on record{days}", str(books), "'forestcycle record' first")
        raise StoreError(fault)
    trees = assess_city(city, progress=progress).trees
    classes = trees.set_index("tree_id")["age_class"].astype("str")
    with_class = visits.assign(age_class=visits["tree_id"].map(classes).fillna(GONE))
    table = calibration_table(with_class, seed=seed)
    write_text_atomically(out / "calibration.csv", spreadsheet_text(table.round(4)))
    overall = table[(table["crew"] == EVERYONE) & (table["age_class"] == EVERYONE)]
    fitted = overall[(overall["measure"] == "minutes") & overall["factor"].notna()]
    apart = crews_apart(table)
    if not len(fitted):
        return Calibrated(table, None, apart, folder)
    labour = load_table("labour", LABOUR_COLUMNS, folder=folder)
    factor, returns = float(fitted["factor"].iloc[0]), int(fitted["returns"].iloc[0])
    _write(out / "labour.csv", _refitted(labour, factor, returns))
    return Calibrated(table, out, apart, folder)


def _refitted(labour: pd.DataFrame, factor: float, returns: int) -> pd.DataFrame:
    """Multiply every item in minutes, so that each visit's minutes grow by the factor."""
    in_minutes = labour["item"].str.contains("minutes")
    per_minute = labour["item"] == PER_MINUTE
    value = labour["value"].mask(in_minutes, labour["value"] * factor)
    value = value.mask(per_minute, labour["value"] / factor).round(4)
    source = labour["source"] if "source" in labour else pd.Series("", index=labour.index)
    note = f"; times {factor:.3f} from {returns:,} returns of the city's crews"
    inverse = f"; divided by {factor:.3f} so that brush per tree stays the same"
    source = source.mask(in_minutes, source + note).mask(per_minute, source + inverse)
    mark = labour["mark"].mask(in_minutes | per_minute, "modelling choice")
    return labour.assign(value=value, mark=mark, source=source)


def _write(path: Path, table: pd.DataFrame) -> None:
    text = io.StringIO()
    table.to_csv(text, index=False, lineterminator="\n")
    write_text_atomically(path, text.getvalue())
