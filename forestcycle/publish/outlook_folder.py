"""Read what ``forestcycle outlook`` wrote into a folder."""

import json
from pathlib import Path

import pandas as pd

from forestcycle.errors import Fault, StoreError
from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import original_cell

FACTS_FILE = "outlook.json"
TABLES = ("summary", "years", "wards", "crews", "margins")
MORE_TABLES = ("intervals", "cycles")
TEXTS = ("budget", "choice", "ward", "crew", "figure")
REMEDY = "run 'forestcycle outlook' again"


def read_outlook_folder(folder: Path) -> OutlookFigures:
    """Read an outlook.

    Parameters
    ----------
    folder : Path

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
        return OutlookFigures(
            city=facts["city"],
            currency=facts["currency"],
            facts=facts,
            **{name: _table(folder / f"{name}.csv") for name in names},
        )
    except FileNotFoundError as error:
        name = Path(str(error.filename)).name
        raise StoreError(Fault(f"holds no {name}", str(folder), REMEDY)) from None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(Fault(f"no outlook can be read: {error}", str(folder), REMEDY)) from None


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
    found, city = read_outlook_folder(folder), settings_of(plan).city
    of_both = (
        ("city", found.city, city.name),
        ("first year", found.facts["first_year"], city.year_start.year),
        ("currency", found.currency, city.currency),
    )
    faults = [
        Fault(f"{what} {outlook}, but the plan's is {planned}", str(folder), REMEDY)
        for what, outlook, planned in of_both
        if outlook != planned
    ]
    if faults:
        raise StoreError(faults)
    return found


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
