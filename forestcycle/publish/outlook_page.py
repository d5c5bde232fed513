"""The page of the years ahead: one file that asks no network, its numbers beside it."""

import io
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.outlook_charts import (
    draw_cycles,
    draw_interval,
    draw_lines,
    draw_wards,
)
from forestcycle.publish.page import render
from forestcycle.publish.report_charts import chart_style
from forestcycle.publish.text import plain

BEST = "best visits"
PRESENT = "100 %"
INTERVAL_CHARTS = {
    "young_interval": ("young_on_recall_share", "Young trees on recall", "% of them", 100),
    "lost_interval": (
        "past_correcting",
        "Structural faults gone past correcting",
        "in the year",
        1,
    ),
}
CYCLE_TOTALS = {
    "total_cents": "Where waiting weighs what the present budget's last money buys",
    "total_at_half_rate_cents": "Where it weighs half of that",
    "total_at_twice_the_rate_cents": "Where it weighs twice that",
}
CENTS = 100
HALF, WIDE = (4.6, 3.2), (7.4, 3.9)


@dataclass(frozen=True)
class OutlookFigures:
    """What the page shows.

    Attributes
    ----------
    city, currency : str
    facts : dict
        As in ``outlook.json``.
    summary, years, wards, crews, margins : DataFrame
        The tables beside the page.
    intervals, cycles : DataFrame or None
        Shown where they were worked out.
    """

    city: str
    currency: str
    facts: dict[str, Any]
    summary: pd.DataFrame
    years: pd.DataFrame
    wards: pd.DataFrame
    crews: pd.DataFrame
    margins: pd.DataFrame
    intervals: pd.DataFrame | None = None
    cycles: pd.DataFrame | None = None

    @property
    def reference(self) -> str:
        """The budget that others are held against: the present one, else the first."""
        names = list(dict.fromkeys(self.summary["budget"]))
        return PRESENT if PRESENT in names else str(names[0])

    def best(self) -> pd.DataFrame:
        """Return the yearly figures of the best visits, of every budget."""
        return self.years[self.years["choice"] == BEST]

    def money(self, cents: float) -> str:
        """Write money in whole units."""
        return f"{cents / CENTS:,.0f} {self.currency}"


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
        last_year=figures.facts["first_year"] + figures.facts["years"] - 1,
        reference=figures.reference,
        headlines=headlines(figures),
        findings=findings(figures),
        charts=charts,
        rows=budget_rows(figures),
        habits=habit_rows(figures),
        margins=margin_rows(figures),
        cycles=cycle_findings(figures),
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


def cycle_findings(figures: OutlookFigures) -> list[str]:
    """Say which cycle costs least in all, at the city's own rate and at half and twice of it."""
    if figures.cycles is None:
        return []
    table = figures.cycles
    sentences = []
    for column, words in CYCLE_TOTALS.items():
        place = int(table[column].to_numpy().argmin())
        cycle = int(table["cycle_years"].iloc[place])
        if 0 < place < len(table) - 1:
            end = f"a cycle of {cycle} years costs least in all; shorter and longer ones cost more."
        else:
            edge = "shortest" if place == 0 else "longest"
            end = f"the {edge} cycle tried, {cycle} years, costs least in all."
        sentences.append(f"{words}, {end}")
    return sentences


def headlines(figures: OutlookFigures) -> list[tuple[str, str]]:
    """Return the main figures of the budget of reference: value and words."""
    row = _row(figures, figures.reference, BEST)
    gone = row["backlog_gone_year"]
    return [
        (
            f"{100 * row['young_on_recall_share_at_end']:.0f} %",
            "of young trees on recall in the last year",
        ),
        (
            "not yet" if pd.isna(gone) else f"{int(gone)}",
            "the year in which the backlog is gone",
        ),
        (f"{row['corrected']:,.0f}", "structural faults corrected, expected"),
        (f"{row['past_correcting']:,.0f}", "structural faults gone past correcting, expected"),
    ]


def findings(figures: OutlookFigures) -> list[str]:
    """Say in sentences what other budgets change against the one of reference."""
    reference = _row(figures, figures.reference, BEST)
    sentences = []
    for budget in dict.fromkeys(figures.summary["budget"]):
        if budget == figures.reference:
            continue
        row = _row(figures, budget, BEST)
        money = row["cents"] - reference["cents"]
        lost = row["past_correcting"] - reference["past_correcting"]
        young = round(
            100 * (row["young_on_recall_share_at_end"] - reference["young_on_recall_share_at_end"])
        )
        change = f"{young:+d} percentage points" if young else "no change"
        sentences.append(
            f"{budget} against {figures.reference}: {figures.money(abs(money))} "
            f"{'more' if money > 0 else 'less'} over the years shown, "
            f"{abs(lost):,.0f} {'more' if lost > 0 else 'fewer'} structural faults past "
            f"correcting; young trees on recall at the end: {change}."
        )
    return sentences


def budget_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return the table of budgets: best visits only."""
    rows: list[tuple[str, ...]] = []
    for budget in dict.fromkeys(figures.summary["budget"]):
        row = _row(figures, budget, BEST)
        crews = figures.crews
        own = crews[(crews["budget"] == budget) & (crews["choice"] == BEST)]
        most = own.groupby("year")["crews"].sum().max()
        gone = row["backlog_gone_year"]
        rows.append(
            (
                str(budget),
                figures.money(row["cents"]),
                f"{most:.0f}",
                f"{row['visits']:,.0f}",
                f"{100 * row['young_on_recall_share_at_end']:.0f}",
                f"{100 * row['on_recall_share_at_end']:.0f}",
                f"{row['corrected']:,.0f}",
                f"{row['past_correcting']:,.0f}",
                f"{row['dose_owed_at_end']:,.0f}",
                f"{row['peak_backlog']:,.0f} ({int(row['peak_backlog_year'])})",
                "not yet" if pd.isna(gone) else f"{int(gone)}",
                f"{100 * row['gap']:.1f}",
            )
        )
    return rows


def habit_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return the table of choices at the budget of reference."""
    own = figures.summary[figures.summary["budget"] == figures.reference]
    least = float(own["worth_undone"].min())
    return [
        (
            str(row["choice"]),
            figures.money(row["cents"]),
            f"{row['visits']:,.0f}",
            f"{row['worth_undone']:,.0f}",
            f"{100 * (row['worth_undone'] / least - 1):+.0f} %" if least > 0 else "",
            f"{row['past_correcting']:,.0f}",
            f"{100 * row['young_on_recall_share_at_end']:.0f}",
            f"{100 * row['on_recall_share_at_end']:.0f}",
        )
        for _, row in own.iterrows()
    ]


def margin_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return what one more crew-day is worth: first, middle and last year."""
    years = sorted(set(figures.margins["year"]))
    picked = list(dict.fromkeys([years[0], years[len(years) // 2], years[-1]]))
    rows = []
    for (budget, crew), part in figures.margins.groupby(["budget", "crew"], sort=False):
        by_year = part.set_index("year")["worth_per_crew_day"]
        rows.append((str(budget), plain(str(crew)), *(f"{by_year[year]:,.0f}" for year in picked)))
    return [("budget", "crew", *map(str, picked)), *rows]


def _row(figures: OutlookFigures, budget: str, choice: str) -> "pd.Series[Any]":
    table = figures.summary
    return table[(table["budget"] == budget) & (table["choice"] == choice)].iloc[0]


def _drawn(draw: Callable[[Axes], None], *, size: tuple[float, float] = HALF) -> str:
    """Draw a chart as an SVG image in a data address: it can run nothing."""
    figure = Figure(figsize=size, layout="constrained")
    draw(figure.add_subplot())
    content = io.BytesIO()
    figure.savefig(content, format="svg", metadata={"Date": None, "Creator": "forestcycle"})
    return f"data:image/svg+xml;base64,{b64encode(content.getvalue()).decode('ascii')}"
