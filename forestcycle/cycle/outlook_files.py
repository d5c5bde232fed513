"""Write the outlook down: tables, figures for programs, and the page."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pandas as pd

from forestcycle.cycle.outlook import CityOutlook, LeastBudget
from forestcycle.cycle.summary import versions
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.together import replacing_together
from forestcycle.outlook.answers import (
    crews_table,
    margins_table,
    summary,
    wards_table,
    years_table,
)
from forestcycle.publish.crew_lists import write_csv
from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.outlook_folder import FACTS_FILE, OUTLOOK_FILES, PAGE_FILE
from forestcycle.publish.outlook_page import write_outlook_page
from forestcycle.publish.text import inert_cells

DECIMALS = 4


def outlook_tables(found: CityOutlook) -> dict[str, pd.DataFrame]:
    """Return the outlook's tables by name.

    Parameters
    ----------
    found : CityOutlook

    Returns
    -------
    dict of str to DataFrame
        ``summary years wards crews margins``, and where they were worked out
        ``intervals ward_intervals summary_intervals cycles``.
    """
    courses, year = found.courses, found.first_year
    kinds = found.horizon.stock.crew_kinds
    more = {} if found.cycles is None else {"cycles": found.cycles}
    if found.intervals is not None:
        more["intervals"] = found.intervals.years
        more["ward_intervals"] = found.intervals.wards
        more["summary_intervals"] = found.intervals.summary
    return {
        "summary": summary(courses, found.plans, year),
        "years": years_table(courses, year),
        "wards": wards_table(courses, year),
        "crews": crews_table(courses, kinds, year),
        "margins": margins_table(found.plans, kinds, year),
    } | more


def write_outlook(found: CityOutlook, out: Path | str) -> OutlookFigures:
    """Write tables, ``outlook.json`` and ``outlook.html`` into a folder, all of one run.

    Parameters
    ----------
    found : CityOutlook
    out : Path or str
        Made if it is not there.

    Returns
    -------
    OutlookFigures
        As written.

    Raises
    ------
    StoreError
        If it cannot be written to.
    """
    tables = outlook_tables(found)
    facts = outlook_facts(found)
    records = {
        name: _records(tables[name]) for name in ("summary", "summary_intervals") if name in tables
    }
    city = found.city.settings.city
    figures = OutlookFigures(city=city.name, currency=city.currency, facts=facts, **tables)
    with replacing_together(Path(out), OUTLOOK_FILES, sign=FACTS_FILE) as folder:
        for name, table in tables.items():
            _write_table(folder / f"{name}.csv", table)
        text = json.dumps(facts | records, indent=2, ensure_ascii=False)
        write_text_atomically(folder / FACTS_FILE, text + "\n")
        write_outlook_page(figures, folder / PAGE_FILE)
    return figures


def _write_table(path: Path, table: pd.DataFrame) -> None:
    texts = table.select_dtypes(exclude="number").columns
    inert = table.round(DECIMALS).assign(**{text: inert_cells(table[text]) for text in texts})
    write_csv(path, inert.astype("object").where(inert.notna(), ""))


def outlook_facts(found: CityOutlook) -> dict[str, Any]:
    """Return what the figures rest on.

    Parameters
    ----------
    found : CityOutlook

    Returns
    -------
    dict of str to object
        As it stands in ``outlook.json``.
    """
    settings, stock = found.city.settings, found.horizon.stock
    return {
        "city": settings.city.name,
        "first_year": found.first_year,
        "years": found.plans[0].trajectory.years,
        "years_beyond": settings.outlook.years_beyond,
        "currency": settings.city.currency,
        "present_cents": found.present_cents,
        "trees": int(stock.trees),
        "trees_in_inventory": found.city.inventory.rows_read,
        "first_year_cells": len(stock.cells.state),
        "states": stock.states.count * len(stock.wards),
        "minutes_of_travel_per_visit": round(float(found.overhead[""]), 3),
        "travel_from": found.overhead_from,
        "crew_years": settings.outlook.crew_years,
        "crew_days_paid": settings.outlook.crew_days_paid,
        "chances": asdict(found.horizon.chances),
        "draws": found.draws,
        "least_budget": None if found.least is None else _least(found.least),
        "budgets": [
            {
                "budget": plan.budget.name,
                "cents": None if plan.budget.cents is None else list(plan.budget.cents),
                "most_crews": plan.budget.most_crews,
                "loss": plan.loss,
                "bound": plan.bound,
                "gap": plan.gap,
                "relaxed_loss": plan.relaxed_loss,
                "rounds": plan.rounds,
            }
            for plan in found.plans
        ],
        "seconds": round(found.seconds, 1),
        "input_sha256": found.city.inventory.sha256,
        "versions": versions(),
    }


def _least(least: LeastBudget) -> dict[str, Any]:
    return {
        "targets": [str(target) for target in least.targets],
        "cents_a_year": least.cents_a_year,
        "known_to_cents": least.known_to_cents,
        "share_of_present": least.share_of_present,
        "draws_met": dict(least.met),
    }


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    return list(json.loads(table.to_json(orient="records")))
