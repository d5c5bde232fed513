"""The council's report as HTML, PDF and one CSV per table."""

import io
from base64 import b64encode
from pathlib import Path

from matplotlib.figure import Figure

from forestcycle.inventory.atomic import write_bytes_atomically, write_text_atomically
from forestcycle.publish.crew_lists import write_csv
from forestcycle.publish.output import Edition, Link, Output, Tables
from forestcycle.publish.page import render
from forestcycle.publish.report_chart import Chart
from forestcycle.publish.report_charts import chart_style
from forestcycle.publish.report_content import DEFERRED_COLUMNS, Report, report_content
from forestcycle.publish.report_figures import report_figures
from forestcycle.publish.report_paper import RASTER_DPI, report_pdf
from forestcycle.publish.text import inert_cells

FOLDER = "report"
PAGE, PAPER = f"{FOLDER}/report.html", f"{FOLDER}/report.pdf"
SVG_METADATA = {"Date": None, "Creator": "forestcycle"}


def figures_path(table: str) -> str:
    """Name the file of one of the report's tables.

    Parameters
    ----------
    table : str

    Returns
    -------
    str
        Relative to the plan's folder.
    """
    return f"{FOLDER}/figures/{table}.csv"


def write_report(edition: Edition) -> list[Path]:
    """Write ``report/report.html``, ``report/report.pdf`` and ``report/figures/*.csv``.

    Parameters
    ----------
    edition : Edition
        Where it has an outlook, the report tells of the years ahead too.

    Returns
    -------
    list of Path
        The HTML first.
    """
    figures = report_figures(edition.plan)
    report = report_content(edition.plan, figures, edition.outlook)
    page, paper = edition.folder / PAGE, edition.folder / PAPER
    with chart_style():
        write_text_atomically(page, _html(report))
        write_bytes_atomically(paper, report_pdf(report))
    written = [page, paper]
    tables = figures.tables() | ({} if report.ahead is None else report.ahead.tables)
    for name, table in tables.items():
        path = edition.folder / figures_path(name)
        texts = table.select_dtypes(exclude="number").columns.difference(["value"])
        write_csv(path, table.assign(**{text: inert_cells(table[text]) for text in texts}))
        written.append(path)
    return written


def _html(report: Report) -> str:
    ahead = [] if report.ahead is None else report.ahead.charts
    svgs = {chart.name: _svg(chart) for chart in (*report.charts.values(), *ahead)}
    return render("report.html", report=report, svgs=svgs, deferred_columns=DEFERRED_COLUMNS)


def _svg(chart: Chart) -> str:
    """Draw a chart as an SVG image in a data address: it can run nothing."""
    figure = Figure(figsize=chart.size, layout="constrained")
    chart.draw(figure.add_subplot())
    content = io.BytesIO()
    figure.savefig(content, format="svg", dpi=RASTER_DPI, metadata=SVG_METADATA)
    return f"data:image/svg+xml;base64,{b64encode(content.getvalue()).decode('ascii')}"


OUTPUT = Output(
    "report",
    FOLDER,
    write_report,
    "report",
    links=(
        Link(PAGE, "Council report", "Coverage, cost and what waiting costs, by ward.", rank=20),
        Link(PAPER, "Council report on paper", "The same as PDF.", rank=30),
    ),
    tables=Tables(
        "`report/figures/*.csv`",
        "What the report's charts and tables show.",
        {
            f"figures {table}": figures_path(table)
            for table in str.split(
                "headline months wards recall_by_ward recall_by_age_class deferred sensitivity "
                "years_ahead years_ahead_by_year years_ahead_intervals "
                "years_ahead_summary_intervals"
            )
        },
    ),
)
