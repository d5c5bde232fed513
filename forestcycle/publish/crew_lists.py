"""Crew lists as CSV: one per crew and day, and one of all."""

import csv
import io
from pathlib import Path

import pandas as pd

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.crew_rows import crew_rows, days_of
from forestcycle.publish.names import safe_name
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.text import inert_cells

BYTE_ORDER_MARK = "\ufeff"
"""Tells spreadsheet programs that the file is UTF-8."""

TEXT_COLUMNS = str.split(
    "crew hours tree_id address common_name species work cautions equipment note"
)


def write_crew_lists(plan: PlanFolder, folder: Path) -> list[Path]:
    """Write ``crew_lists/all.csv`` and ``crew_lists/<crew>/<date>.csv``.

    Parameters
    ----------
    plan : PlanFolder
    folder : Path
        The plan's folder, or another to write into.

    Returns
    -------
    list of Path
        Every file written, that of all crews first.
    """
    rows = crew_rows(plan)
    for column in TEXT_COLUMNS:
        rows[column] = inert_cells(rows[column])
    lists = folder / "crew_lists"
    everything = lists / "all.csv"
    write_csv(everything, rows)
    written = [everything]
    for (crew, date), day in days_of(plan, rows):
        path = lists / safe_name(crew) / f"{date}.csv"
        write_csv(path, day)
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
