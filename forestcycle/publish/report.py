"""The council's report as HTML, PDF and one CSV per table."""

import io
from base64 import b64encode
from pathlib import Path

from matplotlib.figure import Figure

from forestcycle.inventory.atomic import write_bytes_atomically, write_text_atomically
from forestcycle.publish.crew_lists import write_csv
from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.page import render
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.report_chart import Chart
from forestcycle.publish.report_charts import chart_style
from forestcycle.publish.report_content import DEFERRED_COLUMNS, Report, report_content
from forestcycle.publish.report_figures import report_figures
from forestcycle.publish.report_paper import RASTER_DPI, report_pdf
from forestcycle.publish.text import inert_cells

SVG_METADATA = {"Date": None, "Creator": "forestcycle"}


def write_report(
    plan: PlanFolder, folder: Path, *, outlook: OutlookFigures | None = None
) -> list[Path]:
    """Write ``report/report.html``, ``report/report.pdf`` and ``report/figures/*.csv``.

    Parameters
    ----------
    plan : PlanFolder
    folder : Path
        The plan's folder, or another to write into.
    outlook : OutlookFigures, optional
        Adds the years ahead.

    Returns
    -------
    list of Path
        The HTML first.
    """
    figures = report_figures(plan)
    report = report_content(plan, figures, outlook)
    page, paper = folder / "report" / "report.html", folder / "report" / "report.pdf"
    with chart_style():
        write_text_atomically(page, _html(report))
        write_bytes_atomically(paper, report_pdf(report))
    written = [page, paper]
    tables = figures.tables() | ({} if report.ahead is None else report.ahead.tables)
    for name, table in tables.items():
        path = folder / "report" / "figures" / f"{name}.csv"
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
