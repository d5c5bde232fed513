"""Crew lists as CSV: one per crew and day, and one of all."""

import csv
import io
from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.spreadsheet import BYTE_ORDER_MARK
from forestcycle.publish.crew_rows import crew_rows, days_of
from forestcycle.publish.names import PaperPath
from forestcycle.publish.output import Edition, Link, Output, Paper, Tables
from forestcycle.publish.text import inert_cells

FOLDER = "crew_lists"
list_path = PaperPath(FOLDER + "/{crew}/{day}.csv")
ALL_STOPS = f"{FOLDER}/all.csv"

TEXT_COLUMNS = str.split(
    "crew hours tree_id address common_name species work cautions equipment note"
)


def write_crew_lists(edition: Edition) -> list[Path]:
    """Write ``crew_lists/all.csv`` and ``crew_lists/<crew>/<date>.csv``.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
        Every file written, that of all crews first.
    """
    rows = crew_rows(edition.plan)
    for column in TEXT_COLUMNS:
        rows[column] = inert_cells(rows[column])
    everything = edition.folder / ALL_STOPS
    write_csv(everything, rows)
    written = [everything]
    for (crew, day), stops in days_of(edition.plan, rows):
        path = edition.folder / list_path(crew, date.fromisoformat(day))
        write_csv(path, stops)
        written.append(path)
    return written


def write_csv(path: Path, rows: pd.DataFrame) -> None:
    """Write a table as CSV for spreadsheet programs.

    Parameters
    ----------
    path : Path
        Its folder is made if need be.
    rows : DataFrame
        Texts must be inert already: see `forestcycle.publish.text.inert_cell`.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(rows.columns)
    writer.writerows(rows.itertuples(index=False, name=None))
    write_text_atomically(path, BYTE_ORDER_MARK + text.getvalue())


OUTPUT = Output(
    "crew lists",
    FOLDER,
    write_crew_lists,
    "crew lists",
    links=(
        Link(ALL_STOPS, "All stops", "One table of the whole year for a spreadsheet.", rank=50),
    ),
    papers=(Paper(list_path, carried=False, label="list", rank=20),),
    tables=Tables(
        "crew lists",
        "`crew_lists/all.csv` and `crew_lists/CREW/DATE.csv`. Routes are GPX 1.1, calendars "
        "iCalendar (RFC 5545).",
        {"crew list": ALL_STOPS},
    ),
)
