"""The sentences and tables of the page of the years ahead."""

from typing import Any

import pandas as pd

from forestcycle.outlook.interval_study import cheapest_cycle
from forestcycle.publish.outlook_chance_words import (
    backlog_in_draws,
    between,
    targets_in_draws,
)
from forestcycle.publish.outlook_figures import BEST, CENTS, OutlookFigures
from forestcycle.publish.shares import percentage
from forestcycle.publish.text import plain

CYCLE_TOTALS = {
    "total_cents": "If waiting is priced at what the present budget's last visits pay to avoid it",
    "total_at_half_rate_cents": "Priced at half of that",
    "total_at_twice_the_rate_cents": "Priced at twice that",
}


def present_budget(figures: OutlookFigures) -> str:
    """Say what budgets in percent are shares of, nothing where there is none.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    str
    """
    cents = figures.facts.get("present_cents")
    if not cents or not any("%" in budget for budget in figures.budgets):
        return ""
    return f"Budgets in % are shares of the present one, {figures.money(cents)} a year."


def cycle_findings(figures: OutlookFigures) -> list[str]:
    """Say which cycle costs least in all, at the city's own rate and at half and twice of it.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of str
        Sentences; none where no cycles were compared.
    """
    if figures.cycles is None:
        return []
    table = figures.cycles
    sentences = []
    for column, words in CYCLE_TOTALS.items():
        cycle, inside = cheapest_cycle(table, column)
        if inside:
            end = f"a cycle of {cycle} years costs least in all; shorter and longer ones cost more."
        else:
            edge = "shortest" if cycle == table["cycle_years"].iloc[0] else "longest"
            end = f"the {edge} cycle tried, {cycle} years, costs least in all."
        sentences.append(f"{words}, {end}")
    return sentences


def headlines(figures: OutlookFigures) -> list[tuple[str, str]]:
    """Return the main figures of the budget of reference: value and words.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of (str, str)
    """
    row = figures.row(figures.reference)
    gone = row["backlog_gone_year"]
    reference = figures.reference

    def likely(figure: str) -> str:
        words = between(figures, reference, figure)
        return f"; nine draws in ten: {words}" if words else ""

    return [
        (
            f"{percentage(row['young_on_recall_share_at_end'])} %",
            "of young trees on recall in the last year" + likely("young_on_recall_share_at_end"),
        ),
        (
            "not yet" if pd.isna(gone) else f"{int(gone)}",
            "the year in which the backlog is gone" + likely("backlog_gone_year"),
        ),
        (
            f"{row['corrected']:,.0f}",
            "structural faults corrected, expected" + likely("corrected"),
        ),
        (
            f"{row['past_correcting']:,.0f}",
            "structural faults gone past correcting, expected" + likely("past_correcting"),
        ),
    ]


def findings(figures: OutlookFigures) -> list[str]:
    """Say what other budgets change against the one of reference, and the least for targets.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of str
        Sentences.
    """
    reference = figures.row(figures.reference)
    sentences = []
    for budget in figures.budgets:
        if budget == figures.reference:
            continue
        row = figures.row(budget)
        gone = backlog_sentence(row["backlog_gone_year"], figures.last_year)
        sentences.append(
            f"{budget} against {figures.reference}: "
            f"{_money(figures, row['cents'] - reference['cents'])} over the years shown, "
            f"{_lost(row['past_correcting'] - reference['past_correcting'])}, "
            f"{_owed(row['dose_owed_at_end'] - reference['dose_owed_at_end'])}; "
            f"the backlog {gone}; young trees on recall at the end: {_young(row, reference)}."
        )
    return [*sentences, *backlog_in_draws(figures), *least_budget(figures)]


def least_budget(figures: OutlookFigures) -> list[str]:
    """Say what the least budget for the targets is, where there are any.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of str
        One sentence, or none.
    """
    answer = figures.facts.get("least_budget")
    if not answer:
        return []
    sentence = (
        f"Least budget for {' and '.join(answer['targets'])}: about "
        f"{figures.money(answer['cents_a_year'])} a year, "
        f"{100 * answer['share_of_present']:.0f} % of the present one, known to "
        f"{figures.money(answer['known_to_cents'])}.{targets_in_draws(figures)}"
    )
    return [sentence]


def backlog_sentence(gone: float, last_year: int) -> str:
    """Say when the backlog is gone, after "the backlog".

    Parameters
    ----------
    gone : float
        Calendar year; NaN for never.
    last_year : int
        Of those shown.

    Returns
    -------
    str
    """
    if pd.isna(gone):
        return f"is not gone by {last_year}"
    return f"is gone by the end of {int(gone)}"


def _money(figures: OutlookFigures, more: float) -> str:
    if not round(more / CENTS):
        return "the same money"
    return f"{figures.money(abs(more))} {'more' if more > 0 else 'less'}"


def _lost(more: float) -> str:
    faults = round(abs(more))
    if not faults:
        return "as many structural faults past correcting"
    words = "structural fault" if faults == 1 else "structural faults"
    return f"{faults:,} {'more' if more > 0 else 'fewer'} {words} past correcting"


def _owed(more: float) -> str:
    crowns = round(abs(more))
    if not crowns:
        return "as much live wood still owed"
    words = "whole crown" if crowns == 1 else "whole crowns"
    return f"{crowns:,} {words} {'more' if more > 0 else 'less'} of work still owed"


def _young(row: "pd.Series[Any]", reference: "pd.Series[Any]") -> str:
    share = "young_on_recall_share_at_end"
    points = round(100 * (row[share] - reference[share]))
    words = "percentage point" if abs(points) == 1 else "percentage points"
    return f"{points:+d} {words}" if points else "no change"


def budget_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return the table of budgets: best visits only.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of tuple of str
    """
    rows: list[tuple[str, ...]] = []
    for budget in figures.budgets:
        row = figures.row(budget)
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
                percentage(row["young_on_recall_share_at_end"]),
                percentage(row["on_recall_share_at_end"]),
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
    """Return the table of choices at the budget of reference.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of tuple of str
    """
    own = figures.summary[figures.summary["budget"] == figures.reference]
    least = float(own["worth_undone"].min())
    return [
        (
            str(row["choice"]),
            figures.money(row["cents"]),
            f"{row['visits']:,.0f}",
            f"{row['worth_undone']:,.0f}",
            f"{100 * (row['worth_undone'] / least - 1):+,.0f} %" if least > 0 else "",
            f"{row['past_correcting']:,.0f}",
            percentage(row["young_on_recall_share_at_end"]),
            percentage(row["on_recall_share_at_end"]),
        )
        for _, row in own.iterrows()
    ]


def margin_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return what one more crew-day is worth: first, middle and last year.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of tuple of str
        The header first.
    """
    years = sorted(set(figures.margins["year"]))
    picked = list(dict.fromkeys([years[0], years[len(years) // 2], years[-1]]))
    rows = []
    for (budget, crew), part in figures.margins.groupby(["budget", "crew"], sort=False):
        by_year = part.set_index("year")["worth_per_crew_day"]
        rows.append((str(budget), plain(str(crew)), *(f"{by_year[year]:,.0f}" for year in picked)))
    return [("budget", "crew", *map(str, picked)), *rows]
