"""The page of the years ahead: one file that asks no network, its numbers beside it."""

from pathlib import Path

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.outlook_chance_words import (
    COLUMNS,
    WARD_COLUMNS,
    interval_rows,
    ward_rows,
)
from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.outlook_page_charts import page_charts
from forestcycle.publish.outlook_words import (
    budget_rows,
    cycle_findings,
    findings,
    habit_rows,
    headlines,
    margin_rows,
    present_budget,
)
from forestcycle.publish.page import render
from forestcycle.publish.report_charts import chart_style
from forestcycle.publish.text import plain


def write_outlook_page(figures: OutlookFigures, path: Path) -> None:
    """Write ``outlook.html``.

    Parameters
    ----------
    figures : OutlookFigures
    path : Path
    """
    with chart_style():
        charts = page_charts(figures)
    page = render(
        "outlook.html",
        city=plain(figures.city),
        facts=figures.facts,
        last_year=figures.last_year,
        reference=figures.reference,
        present=present_budget(figures),
        headlines=headlines(figures),
        findings=findings(figures),
        charts=charts,
        rows=budget_rows(figures),
        habits=habit_rows(figures),
        margins=margin_rows(figures),
        cycles=cycle_findings(figures),
        interval_columns=tuple(COLUMNS),
        intervals=interval_rows(figures),
        ward_columns=tuple(WARD_COLUMNS),
        ward_intervals=ward_rows(figures),
    )
    write_text_atomically(path, page)
