"""Read what ``forestcycle outlook`` wrote into a folder."""

import json
import shutil
from pathlib import Path

import pandas as pd

from forestcycle.errors import Fault, StoreError
from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.output import Edition, Link, Output
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import original_cell

FACTS_FILE, PAGE_FILE = "outlook.json", "outlook.html"
KEPT = "years_ahead"
"""Folder within a plan's that keeps a copy of the outlook of which its report tells."""
TABLES = ("summary", "years", "wards", "crews", "margins")
MORE_TABLES = ("intervals", "ward_intervals", "summary_intervals", "cycles")
OUTLOOK_FILES = (FACTS_FILE, PAGE_FILE, *(f"{name}.csv" for name in (*TABLES, *MORE_TABLES)))
"""All that ``forestcycle outlook`` may write; the first is there when all are."""
TEXTS = ("budget", "choice", "ward", "crew", "figure")
REMEDY = "run 'forestcycle outlook' again"
KEPT_REMEDY = "publish with --outlook DIR again, or with --no-outlook"


def read_outlook_folder(folder: Path, *, remedy: str = REMEDY) -> OutlookFigures:
    """Read an outlook.

    Parameters
    ----------
    folder : Path
    remedy : str
        What to do where it cannot be read.

    Returns
    -------
    OutlookFigures

    Raises
    ------
    StoreError
        If a file is missing or is not what ``forestcycle outlook`` writes.
    """
    try:
        facts = json.loads((folder / FACTS_FILE).read_text(encoding="utf-8"))
        names = (*TABLES, *(name for name in MORE_TABLES if (folder / f"{name}.csv").exists()))
        figures = OutlookFigures(
            city=facts["city"],
            currency=facts["currency"],
            facts=facts,
            **{name: _table(folder / f"{name}.csv") for name in names},
        )
        if figures.last_year < figures.first_year or int(facts["draws"]) < 0:
            raise ValueError(f"its years or draws cannot be, in {FACTS_FILE}")
        return figures
    except FileNotFoundError as error:
        name = Path(str(error.filename)).name
        raise StoreError(Fault(f"holds no {name}", str(folder), remedy)) from None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(Fault(f"no outlook can be read: {error}", str(folder), remedy)) from None


def outlook_of_plan(folder: Path, plan: PlanFolder) -> OutlookFigures:
    """Read an outlook and make sure that it belongs to a plan's city and year.

    Parameters
    ----------
    folder : Path
    plan : PlanFolder

    Returns
    -------
    OutlookFigures

    Raises
    ------
    StoreError
        If it cannot be read or is of another city, year or currency.
    """
    remedy = KEPT_REMEDY if folder.name == KEPT else REMEDY
    found, city = read_outlook_folder(folder, remedy=remedy), settings_of(plan).city
    of_both = (
        ("city", found.city, city.name),
        ("first year", found.facts["first_year"], city.year_start.year),
        ("currency", found.currency, city.currency),
    )
    faults = [
        Fault(f"{what} {outlook}, but the plan's is {planned}", str(folder), remedy)
        for what, outlook, planned in of_both
        if outlook != planned
    ]
    if faults:
        raise StoreError(faults)
    return found


def kept_outlook(folder: Path) -> Path | None:
    """Return where a plan keeps the outlook that it was published with last.

    Parameters
    ----------
    folder : Path
        The plan's.

    Returns
    -------
    Path or None
        None where it keeps none.
    """
    kept = folder / KEPT
    return kept if kept.is_dir() else None


def keep_outlook(edition: Edition) -> list[Path]:
    """Copy an outlook, so that the plan's report tells of it until another is given.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
        Empty where the edition tells of no outlook.
    """
    if edition.outlook_folder is None:
        return []
    kept = edition.folder / KEPT
    kept.mkdir()
    found = [path for name in OUTLOOK_FILES if (path := edition.outlook_folder / name).exists()]
    return [Path(shutil.copyfile(path, kept / path.name)) for path in found]


def _table(path: Path) -> pd.DataFrame:
    """Read a table; only an empty cell is no value, since a ward may be called NA."""
    table = pd.read_csv(
        path,
        encoding="utf-8-sig",
        keep_default_na=False,
        na_values=[""],
        dtype=dict.fromkeys(TEXTS, "str"),
    )
    texts = [text for text in TEXTS if text in table.columns]
    return table.assign(**{text: table[text].fillna("").map(original_cell) for text in texts})


OUTPUT = Output(
    "years ahead",
    KEPT,
    keep_outlook,
    links=(
        Link(
            f"{KEPT}/{PAGE_FILE}",
            "The years ahead",
            "What each budget buys and what waiting costs, with all its charts.",
            rank=40,
        ),
    ),
)
