"""The years ahead in the council's report: what each budget buys and what waiting costs."""

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd
from matplotlib.axes import Axes

from forestcycle.publish.outlook_chance_words import between, in_brackets, written_range
from forestcycle.publish.outlook_charts import draw_interval, draw_lines
from forestcycle.publish.outlook_figures import BEST, OutlookFigures
from forestcycle.publish.outlook_words import backlog_sentence, findings
from forestcycle.publish.report_chart import Chart
from forestcycle.publish.shares import percentage

LOST_SO_FAR = "past_correcting_so_far"
SHARES = ("on_recall_share",)
HALF = (3.4, 2.6)


@dataclass(frozen=True)
class YearsAhead:
    """What the report says of the years ahead.

    Attributes
    ----------
    span : str
        First and last year.
    intro, note : str
    columns : tuple of str
        Titles of the table.
    rows : list of tuple of str
        One per budget; with draws, an interval follows each figure that has one.
    costs : list of str
        What waiting costs, in sentences.
    charts : list of Chart
    tables : dict of str to DataFrame
        The numbers behind it, to be written beside the report.
    """

    span: str
    intro: str
    note: str
    columns: tuple[str, ...]
    rows: list[tuple[str, ...]]
    costs: list[str]
    charts: list[Chart]
    tables: dict[str, pd.DataFrame]


def years_ahead(outlook: OutlookFigures) -> YearsAhead:
    """Put an outlook into the report's words, table and charts.

    Parameters
    ----------
    outlook : OutlookFigures

    Returns
    -------
    YearsAhead
    """
    first, last = outlook.first_year, outlook.last_year
    return YearsAhead(
        span=f"{first} to {last}",
        intro=(
            f"What each budget buys in {last - first + 1} years if the visits of all years are "
            f"chosen together. {_of_reference(outlook)}"
        ),
        note=_note(outlook),
        columns=(
            "Budget",
            "Money in all",
            f"On recall {first}, %",
            f"On recall {last}, %",
            "Past correcting",
            f"Owed {last}",
            "Backlog gone",
        ),
        rows=[_row(outlook, budget) for budget in outlook.budgets],
        costs=findings(outlook),
        charts=_charts(outlook),
        tables=_tables(outlook),
    )


def _of_reference(outlook: OutlookFigures) -> str:
    """Say what comes of the budget that others are held against."""
    row = outlook.row(outlook.reference)
    return (
        f"With the budget {outlook.reference}, {outlook.money(row['cents'])} over these years, the "
        f"backlog {backlog_sentence(row['backlog_gone_year'], outlook.last_year)} and "
        f"{row['past_correcting']:,.0f} structural faults are expected to go past correcting."
    )


def _note(outlook: OutlookFigures) -> str:
    text = (
        "Expected values under the practice tables, to compare budgets, not forecasts of a tree. "
        "On recall: not overdue at the year's end. Past correcting: faults whose cut has become "
        "too large to close well, over all years. Owed: live wood that all known work would take, "
        "in whole crowns. Backlog gone: from then on at most 1 % of the trees are due and not "
        "visited at a year's end. No tree is felled or planted, prices stay as they are."
    )
    if outlook.intervals is None:
        return text
    return (
        f"{text} In brackets: where nine in ten of {outlook.facts['draws']} draws of growth, "
        "faults, crew time and storms lie."
    )


def _row(outlook: OutlookFigures, budget: str) -> tuple[str, ...]:
    row, years = outlook.row(budget), outlook.best()
    shares = years[years["budget"] == budget].set_index("year")["on_recall_share"]
    first, last = outlook.first_year, outlook.last_year

    def figure(value: float, name: str, year: int) -> str:
        written = percentage(value) if name in SHARES else f"{value:,.0f}"
        return f"{written}{_interval(outlook, budget, name, year)}"

    def in_all(name: str) -> str:
        return in_brackets(between(outlook, budget, name))

    gone = row["backlog_gone_year"]
    return (
        budget,
        outlook.money(row["cents"]) + in_all("cents"),
        figure(shares[first], "on_recall_share", first),
        figure(shares[last], "on_recall_share", last),
        figure(row["past_correcting"], LOST_SO_FAR, last),
        figure(row["dose_owed_at_end"], "dose_owed", last),
        ("not yet" if pd.isna(gone) else f"{int(gone)}") + in_all("backlog_gone_year"),
    )


def _interval(outlook: OutlookFigures, budget: str, figure: str, year: int) -> str:
    if outlook.intervals is None:
        return ""
    table = outlook.intervals
    mask = (table["budget"] == budget) & (table["figure"] == figure) & (table["year"] == year)
    found = table[mask]
    if found.empty or found[["low", "high"]].isna().to_numpy().any():
        return ""
    return in_brackets(written_range(*found[["low", "high"]].iloc[0], percent=figure in SHARES))


def _charts(outlook: OutlookFigures) -> list[Chart]:
    best, reference = outlook.best(), outlook.reference

    def lines(column: str, title: str, unit: str, *, percent: bool) -> Callable[[Axes], None]:
        return lambda axes: draw_lines(
            axes, best, by="budget", column=column, title=title, unit=unit, percent=percent
        )

    charts = [
        Chart(
            "years_ahead_recall",
            "Share of trees that are not overdue at each year's end, by budget.",
            HALF,
            lines("on_recall_share", "Trees on recall", "%", percent=True),
        ),
        Chart(
            "years_ahead_backlog",
            "Trees that are due and not visited at each year's end, by budget.",
            HALF,
            lines("due_unvisited", "Backlog", "trees due, not visited", percent=False),
        ),
    ]
    if outlook.intervals is None:
        return charts
    table = outlook.intervals[outlook.intervals["budget"] == reference]
    for name, column, title, unit in (
        ("years_ahead_lost", LOST_SO_FAR, f"Past correcting so far: {reference}", "faults"),
        ("years_ahead_owed", "dose_owed", f"Dose owed: {reference}", "whole crowns"),
    ):
        part = table[table["figure"] == column]
        charts.append(
            Chart(
                name,
                f"{title}: what is expected by year, and where nine draws in ten lie.",
                HALF,
                _interval_chart(part, title, unit),
            )
        )
    return charts


def _interval_chart(part: pd.DataFrame, title: str, unit: str) -> Callable[[Axes], None]:
    return lambda axes: draw_interval(axes, table=part, title=title, unit=unit, scale=1)


def _tables(outlook: OutlookFigures) -> dict[str, pd.DataFrame]:
    summary = outlook.summary
    tables = {
        "years_ahead": summary[summary["choice"] == BEST],
        "years_ahead_by_year": outlook.best(),
    }
    if outlook.intervals is not None:
        tables["years_ahead_intervals"] = outlook.intervals
    if outlook.summary_intervals is not None:
        tables["years_ahead_summary_intervals"] = outlook.summary_intervals
    return tables
