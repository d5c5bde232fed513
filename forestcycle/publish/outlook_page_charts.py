"""The charts on the page of the years ahead, each with its words and where its numbers are."""

import io
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from forestcycle.publish.outlook_charts import (
    MOST_WARDS,
    draw_cycles,
    draw_interval,
    draw_lines,
    draw_wards,
)
from forestcycle.publish.outlook_figures import BEST, OutlookFigures

INTERVAL_CHARTS = {
    "young_interval": ("young_on_recall_share", "Young trees on recall", "% of them", 100),
    "backlog_interval": ("due_unvisited", "Backlog", "trees due, not visited", 1),
    "lost_interval": ("past_correcting", "Faults gone past correcting", "in the year", 1),
    "owed_interval": ("dose_owed", "Live wood still owed", "whole crowns", 1),
}
"""Figure, title, unit and factor of the charts of intervals."""
HALF, WIDE = (4.6, 3.2), (7.4, 3.9)


@dataclass(frozen=True)
class OutlookChart:
    """A chart with what it says in words, its caption and where its numbers are."""

    image: str
    words: str
    caption: str
    numbers: str


@dataclass(frozen=True)
class _ByBudget:
    """A figure of the best visits over the years, a line per budget."""

    column: str
    title: str
    unit: str
    words: str
    caption: str
    percent: bool = False


BY_BUDGET = {
    "young": _ByBudget(
        "young_on_recall_share",
        "Young trees on recall",
        "% of them",
        "Share of young trees that are not overdue at each year's end, by budget.",
        "A young tree is on recall while its next training visit is not overdue.",
        percent=True,
    ),
    "backlog": _ByBudget(
        "due_unvisited",
        "Backlog: trees due and not visited",
        "trees at year's end",
        "Trees that are due and have not been visited at each year's end, by budget.",
        "Trees whose visit has fallen due and that no crew has reached by the year's end.",
    ),
    "lost": _ByBudget(
        "past_correcting",
        "Structural faults gone past correcting",
        "in the year",
        "Expected number of structural faults that go past correcting in each year.",
        "Once the cut is larger than the tree closes well, a fault can only be reduced.",
    ),
    "undone": _ByBudget(
        "worth_undone",
        "Worth of the visits not made",
        "priority points",
        "Priority points of all visits that are not made in each year, by budget.",
        "The same points by which the year's plan chooses its trees.",
    ),
}


def page_charts(figures: OutlookFigures) -> dict[str, OutlookChart]:
    """Draw all charts of the page, as far as there are figures for them.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    dict of str to OutlookChart
    """
    charts = {name: _by_budget(figures, chart) for name, chart in BY_BUDGET.items()}
    charts |= {"wards": _wards(figures), "habits": _habits(figures)} | _intervals(figures)
    if figures.cycles is not None:
        charts["cycles"] = _cycles(figures.cycles, figures.currency)
    return charts


def _by_budget(figures: OutlookFigures, chart: _ByBudget) -> OutlookChart:
    draw = partial(
        draw_lines,
        table=figures.best(),
        by="budget",
        column=chart.column,
        title=chart.title,
        unit=chart.unit,
        percent=chart.percent,
    )
    return OutlookChart(_drawn(draw), chart.words, chart.caption, "years.csv")


def _wards(figures: OutlookFigures) -> OutlookChart:
    wards, reference = figures.wards, figures.reference
    own = wards[(wards["budget"] == reference) & (wards["choice"] == BEST)]
    title = f"Trees on recall in %, with the budget {reference}"
    size = (WIDE[0], 1.2 + 0.28 * min(len(set(own["ward"])), MOST_WARDS))
    return OutlookChart(
        _drawn(partial(draw_wards, table=own, title=title), size=size),
        f"Share of trees on recall by ward and year with the budget {reference}.",
        "All trees that are not overdue at the year's end, by ward; the darker, the fewer.",
        "wards.csv",
    )


def _habits(figures: OutlookFigures) -> OutlookChart:
    draw = partial(
        draw_lines,
        table=figures.years[figures.years["budget"] == figures.reference],
        by="choice",
        column="worth_undone",
        title=f"Trees chosen differently, all with the budget {figures.reference}",
        unit="priority points undone",
    )
    return OutlookChart(
        _drawn(draw, size=WIDE),
        "Priority points of the visits not made in each year, by how trees are chosen.",
        "Lower is better. The habits have the same crews and money as the best visits.",
        "years.csv",
    )


def _intervals(figures: OutlookFigures) -> dict[str, OutlookChart]:
    if figures.intervals is None:
        return {}
    own = figures.intervals[figures.intervals["budget"] == figures.reference]
    charts = {}
    for name, (figure, title, unit, scale) in INTERVAL_CHARTS.items():
        part = own[own["figure"] == figure]
        charts[name] = OutlookChart(
            _drawn(partial(draw_interval, table=part, title=title, unit=unit, scale=scale)),
            f"{title} by year: what is expected, and where nine draws in ten lie.",
            f"{title} with the budget {figures.reference}.",
            "intervals.csv",
        )
    return charts


def _cycles(table: pd.DataFrame, currency: str) -> OutlookChart:
    draw = partial(draw_cycles, table=table, currency=currency)
    return OutlookChart(
        _drawn(draw, size=WIDE),
        "Yearly cost, cost of waiting and their sum by length of the pruning cycle.",
        "Every tree is visited once in a cycle, those first that have waited longest.",
        "cycles.csv",
    )


def _drawn(draw: Callable[[Axes], None], *, size: tuple[float, float] = HALF) -> str:
    """Draw a chart as an SVG image in a data address: it can run nothing."""
    figure = Figure(figsize=size, layout="constrained")
    draw(figure.add_subplot())
    content = io.BytesIO()
    figure.savefig(content, format="svg", metadata={"Date": None, "Creator": "forestcycle"})
    return f"data:image/svg+xml;base64,{b64encode(content.getvalue()).decode('ascii')}"
