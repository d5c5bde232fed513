"""The council's report on paper: two pages, the years ahead if known, the method, as PDF."""

import io
from collections.abc import Callable
from functools import partial

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forestcycle.publish.pdf_text import printable, wrap
from forestcycle.publish.report_content import DEFERRED_COLUMNS, Report
from forestcycle.publish.report_outlook import YearsAhead

POINTS_PER_INCH = 72.0
PAPER_INCHES = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
RASTER_DPI = 200


def report_pdf(report: Report) -> bytes:
    """Print the report.

    Parameters
    ----------
    report : Report

    Returns
    -------
    bytes
        The same for the same plan: the file holds no time of making.
    """
    content = io.BytesIO()
    metadata = {
        "Title": f"{report.city}, {report.span}",
        "Creator": "forestcycle",
        "Producer": None,
        "CreationDate": None,
    }
    with PdfPages(content, metadata=metadata) as pages:
        draw_pages = _pages(report)
        for number, draw_page in enumerate(draw_pages, start=1):
            figure = Figure(figsize=PAPER_INCHES[report.paper])
            draw_page(figure)
            _foot(figure, report, f"page {number} of {len(draw_pages)}")
            pages.savefig(figure, dpi=RASTER_DPI)
    return content.getvalue()


FEW_COSTS, LEAST_CHART_ROW = 4, 0.13
LEFT, RIGHT, TOP, BOTTOM = 0.08, 0.93, 0.955, 0.05


def _pages(report: Report) -> list[Callable[[Figure], None]]:
    pages = [partial(page, report=report) for page in (_first_page, _second_page)]
    ahead = [] if report.ahead is None else [partial(_years_ahead_page, ahead=report.ahead)]
    return [*pages, *ahead, partial(_method_page, report=report)]


def _foot(figure: Figure, report: Report, page: str) -> None:
    figure.text(LEFT, 0.025, f"{printable(report.city)} · {report.span}", fontsize=7)
    figure.text(RIGHT, 0.025, f"plan {report.version} · {page}", fontsize=7, ha="right")


def _first_page(figure: Figure, report: Report) -> None:
    figure.text(
        LEFT, TOP - 0.012, "Structural pruning of the city's trees", fontsize=18, weight="bold"
    )
    figure.text(LEFT, TOP - 0.036, f"{printable(report.city)} · {report.span}", fontsize=11)
    for k, (value, words) in enumerate(report.headlines):
        x = LEFT + k * (RIGHT - LEFT) / 4
        figure.text(x, TOP - 0.085, value, fontsize=17, weight="bold")
        below = "\n".join(wrap(words, 8, _room(figure) / 4 - 12))
        figure.text(x, TOP - 0.095, below, fontsize=8, va="top")
    y = TOP - 0.145
    for paragraph in report.summary:
        y = _paragraph(figure, paragraph, y, 10) - 0.006
    rows = (report.charts["recall_by_ward"], report.charts["recall_by_age_class"])
    heights = [chart.size[1] / figure.get_figheight() for chart in rows]
    shrink = min(1.25, (y - BOTTOM - 0.04) / sum(heights))
    for chart, height in zip(rows, heights, strict=True):
        y -= height * shrink
        axes = figure.add_axes(
            (LEFT + 0.14, y + 0.065 * shrink, RIGHT - LEFT - 0.14, (height - 0.09) * shrink)
        )
        chart.draw(axes)


def _second_page(figure: Figure, report: Report) -> None:
    y = TOP
    figure.text(
        LEFT, y - 0.012, "What is deferred, money, and fairness", fontsize=14, weight="bold"
    )
    y = _table(figure, [DEFERRED_COLUMNS, *report.deferred], y - 0.04, (0.0, 0.42, 0.56, 0.76, 1.0))
    pairs = report.money
    half = (len(pairs) + 1) // 2
    y -= 0.02
    for k, (words, value) in enumerate(pairs):
        x = LEFT + (k // half) * 0.45
        line = y - (k % half) * 0.017
        figure.text(x, line, words, fontsize=8.5)
        figure.text(x + 0.38, line, value, fontsize=8.5, weight="bold", ha="right")
    y -= half * 0.017 + 0.012
    for k, name in enumerate(("wards", "months")):
        left = LEFT + (0.13 if k == 0 else 0.53)
        report.charts[name].draw(figure.add_axes((left, y - 0.19, 0.3, 0.17)))
    y -= 0.265
    figure.text(LEFT, y, "Where", fontsize=9.5, weight="bold")
    report.charts["coverage"].draw(
        figure.add_axes((LEFT, BOTTOM + 0.035, RIGHT - LEFT, y - BOTTOM - 0.045))
    )


def _years_ahead_page(figure: Figure, ahead: YearsAhead) -> None:
    figure.text(LEFT, TOP - 0.012, f"The years ahead, {ahead.span}", fontsize=14, weight="bold")
    y = _paragraph(figure, ahead.intro, TOP - 0.04, 10) - 0.008
    columns = (0.0, 0.27, 0.42, 0.56, 0.69, 0.8, 1.0)
    rows = [ahead.columns, *_intervals_below(ahead.rows)]
    y = _table(figure, rows, y, columns, size=7.5, last_bold=False) - 0.004
    y = _paragraph(figure, ahead.note, y, 7.5) - 0.012
    if ahead.costs:
        figure.text(LEFT, y, "What waiting costs, and what more money buys", weight="bold")
        y -= 0.02
    size = 9 if len(ahead.costs) <= FEW_COSTS else 7.5
    for sentence in ahead.costs:
        y = _paragraph(figure, sentence, y, size) - 0.006
    row_height = min(0.235, (y - BOTTOM) / ((len(ahead.charts) + 1) // 2))
    if row_height < LEAST_CHART_ROW:  # so many budgets leave no room; the page has the charts
        return
    for k, chart in enumerate(ahead.charts):
        row, column = divmod(k, 2)
        bottom = y - (row + 1) * row_height + 0.045
        left = LEFT + 0.05 + column * 0.44
        chart.draw(figure.add_axes((left, bottom, 0.35, row_height - 0.075)))


def _intervals_below(rows: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Put what stands in brackets into a line of its own, for want of width."""
    lines = []
    for row in rows:
        parts = [cell.partition(" (") for cell in row]
        lines.append(tuple(figure for figure, _, _ in parts))
        if any(interval for _, _, interval in parts):
            lines.append(tuple(f"({interval}" if interval else "" for _, _, interval in parts))
    return lines


def _method_page(figure: Figure, report: Report) -> None:
    figure.text(LEFT, TOP - 0.012, "How these figures came about", fontsize=14, weight="bold")
    y = TOP - 0.045
    for heading, body in report.method:
        figure.text(LEFT, y, heading, fontsize=10, weight="bold")
        y = _paragraph(figure, body, y - 0.017, 9) - 0.012


def _room(figure: Figure) -> float:
    """Width between the margins in points."""
    return (RIGHT - LEFT) * float(figure.get_figwidth()) * POINTS_PER_INCH


def _paragraph(figure: Figure, text: str, top: float, size: float) -> float:
    """Print a text over the page's width and return where it ends."""
    leading = 1.35 * size / POINTS_PER_INCH / figure.get_figheight()
    for line in wrap(printable(text), size, _room(figure)):
        figure.text(LEFT, top, line, fontsize=size)
        top -= leading
    return top


def _table(
    figure: Figure,
    rows: list[tuple[str, ...]],
    top: float,
    columns: tuple[float, ...],
    *,
    size: float = 8.5,
    last_bold: bool = True,
) -> float:
    """Print a table, the first column to the left and the others to the right of theirs."""
    for k, row in enumerate(rows):
        weight = "bold" if k == 0 or (last_bold and k == len(rows) - 1) else "normal"
        for column, cell in zip(columns, row, strict=True):
            figure.text(
                LEFT + column * (RIGHT - LEFT),
                top,
                printable(cell),
                fontsize=size,
                weight=weight,
                ha="left" if column == 0 else "right",
            )
        top -= 0.017
    return top
