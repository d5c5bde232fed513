"""The page of the years ahead: one file that asks no network, its numbers beside it."""

import io
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.outlook_chance_words import (
    COLUMNS,
    WARD_COLUMNS,
    interval_rows,
    ward_rows,
)
from forestcycle.publish.outlook_charts import (
    draw_cycles,
    draw_interval,
    draw_lines,
    draw_wards,
)
from forestcycle.publish.outlook_figures import BEST, OutlookFigures
from forestcycle.publish.outlook_words import (
    budget_rows,
    cycle_findings,
    findings,
    habit_rows,
    headlines,
    margin_rows,
)
from forestcycle.publish.page import render
from forestcycle.publish.report_charts import chart_style
from forestcycle.publish.text import plain

INTERVAL_CHARTS = {
    "young_interval": ("young_on_recall_share", "Young trees on recall", "% of them", 100),
    "lost_interval": (
        "past_correcting",
        "Structural faults gone past correcting",
        "in the year",
        1,
    ),
}
HALF, WIDE = (4.6, 3.2), (7.4, 3.9)


@dataclass(frozen=True)
class OutlookChart:
    """A chart with what it says in words, its caption and where its numbers are."""

    image: str
    words: str
    caption: str
    numbers: str


def write_outlook_page(figures: OutlookFigures, path: Path) -> None:
    """Write ``outlook.html``.

    Parameters
    ----------
    figures : OutlookFigures
    path : Path
    """
    with chart_style():
        charts = outlook_charts(figures) | chance_charts(figures)
    page = render(
        "outlook.html",
        city=plain(figures.city),
        facts=figures.facts,
        last_year=figures.last_year,
        reference=figures.reference,
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


def outlook_charts(figures: OutlookFigures) -> dict[str, OutlookChart]:
    """Draw all charts of the page.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    dict of str to OutlookChart
    """
    best, reference = figures.best(), figures.reference
    at_reference = figures.years[figures.years["budget"] == reference]
    wards = figures.wards
    of_reference = wards[(wards["budget"] == reference) & (wards["choice"] == BEST)]

    def lines(column: str, title: str, unit: str, *, percent: bool = False) -> str:
        return _drawn(
            lambda axes: draw_lines(
                axes, best, by="budget", column=column, title=title, unit=unit, percent=percent
            )
        )

    return {
        "young": OutlookChart(
            lines("young_on_recall_share", "Young trees on recall", "% of them", percent=True),
            "Share of young trees that are not overdue at each year's end, by budget.",
            "A young tree is on recall while its next training visit is not overdue.",
            "years.csv",
        ),
        "backlog": OutlookChart(
            lines("due_unvisited", "Backlog: trees due and not visited", "trees at year's end"),
            "Trees that are due and have not been visited at each year's end, by budget.",
            "Trees whose visit has fallen due and that no crew has reached by the year's end.",
            "years.csv",
        ),
        "lost": OutlookChart(
            lines("past_correcting", "Structural faults gone past correcting", "in the year"),
            "Expected number of structural faults that go past correcting in each year.",
            "Once the cut is larger than the tree closes well, a fault can only be reduced.",
            "years.csv",
        ),
        "undone": OutlookChart(
            lines("worth_undone", "Worth of the visits not made", "priority points"),
            "Priority points of all visits that are not made in each year, by budget.",
            "The same points by which the year's plan chooses its trees.",
            "years.csv",
        ),
        "wards": OutlookChart(
            _drawn(
                lambda axes: draw_wards(axes, of_reference, f"Trees on recall, %: {reference}"),
                size=(7.4, 1.2 + 0.28 * min(len(set(of_reference["ward"])), 16)),
            ),
            f"Share of trees on recall by ward and year with the budget {reference}.",
            "All trees that are not overdue at the year's end, by ward.",
            "wards.csv",
        ),
        "habits": OutlookChart(
            _drawn(
                lambda axes: draw_lines(
                    axes,
                    at_reference,
                    by="choice",
                    column="worth_undone",
                    title=f"Same crews and money, trees chosen differently: {reference}",
                    unit="priority points undone",
                ),
                size=WIDE,
            ),
            "Priority points of the visits not made in each year, by how trees are chosen.",
            "Lower is better. The habits have the same crews and money as the best visits.",
            "years.csv",
        ),
    }


def chance_charts(figures: OutlookFigures) -> dict[str, OutlookChart]:
    """Draw intervals and pruning cycles, as far as they were worked out.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    dict of str to OutlookChart
    """
    charts: dict[str, OutlookChart] = {}
    if figures.intervals is not None:
        own = figures.intervals[figures.intervals["budget"] == figures.reference]
        for name, (figure, title, unit, scale) in INTERVAL_CHARTS.items():
            part = own[own["figure"] == figure]
            charts[name] = OutlookChart(
                _drawn(partial(draw_interval, table=part, title=title, unit=unit, scale=scale)),
                f"{title} by year: what is expected, and where nine draws in ten lie.",
                f"{title} with the budget {figures.reference}.",
                "intervals.csv",
            )
    if figures.cycles is not None:
        charts["cycles"] = OutlookChart(
            _drawn(
                partial(draw_cycles, table=figures.cycles, currency=figures.currency), size=WIDE
            ),
            "Yearly cost, cost of waiting and their sum by length of the pruning cycle.",
            "Every tree is visited once in a cycle, those first that have waited longest.",
            "cycles.csv",
        )
    return charts


def _drawn(draw: Callable[[Axes], None], *, size: tuple[float, float] = HALF) -> str:
    """Draw a chart as an SVG image in a data address: it can run nothing."""
    figure = Figure(figsize=size, layout="constrained")
    draw(figure.add_subplot())
    content = io.BytesIO()
    figure.savefig(content, format="svg", metadata={"Date": None, "Creator": "forestcycle"})
    return f"data:image/svg+xml;base64,{b64encode(content.getvalue()).decode('ascii')}"
