"""The sentences and tables of the page of the years ahead."""

import pandas as pd

from forestcycle.outlook.interval_study import cheapest_cycle
from forestcycle.publish.outlook_chance_words import (
    backlog_in_draws,
    between,
    targets_in_draws,
)
from forestcycle.publish.outlook_figures import BEST, OutlookFigures
from forestcycle.publish.text import plain

CYCLE_TOTALS = {
    "total_cents": "Where waiting weighs what the present budget's last money buys",
    "total_at_half_rate_cents": "Where it weighs half of that",
    "total_at_twice_the_rate_cents": "Where it weighs twice that",
}


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
            f"{100 * row['young_on_recall_share_at_end']:.0f} %",
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
        money = row["cents"] - reference["cents"]
        lost = row["past_correcting"] - reference["past_correcting"]
        owed = row["dose_owed_at_end"] - reference["dose_owed_at_end"]
        young = round(
            100 * (row["young_on_recall_share_at_end"] - reference["young_on_recall_share_at_end"])
        )
        gone = backlog_sentence(row["backlog_gone_year"], figures.last_year)
        sentences.append(
            f"{budget} against {figures.reference}: {figures.money(abs(money))} "
            f"{'more' if money > 0 else 'less'} over the years shown, "
            f"{abs(lost):,.0f} {'more' if lost > 0 else 'fewer'} structural faults past "
            f"correcting, {_owed(owed)}; the backlog {gone}; young trees on recall at the end: "
            f"{f'{young:+d} percentage points' if young else 'no change'}."
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


def _owed(more: float) -> str:
    crowns = round(abs(more))
    if not crowns:
        return "as much live wood still owed"
    return f"{crowns:,} whole crowns of work {'more' if more > 0 else 'fewer'} still owed"


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
            f"{100 * (row['worth_undone'] / least - 1):+.0f} %" if least > 0 else "",
            f"{row['past_correcting']:,.0f}",
            f"{100 * row['young_on_recall_share_at_end']:.0f}",
            f"{100 * row['on_recall_share_at_end']:.0f}",
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
