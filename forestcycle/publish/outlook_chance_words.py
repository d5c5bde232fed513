"""What draws say, in words: where nine in ten lie, and in how many a year or a target comes."""

import pandas as pd

from forestcycle.publish.outlook_figures import CENTS, OutlookFigures
from forestcycle.publish.shares import percentage

GONE = "backlog_gone_year"
PERCENT = ("young_on_recall_share_at_end", "on_recall_share_at_end")
COLUMNS = {
    "money over the years": "cents",
    "visits": "visits",
    "young on recall, %": PERCENT[0],
    "all on recall, %": PERCENT[1],
    "faults corrected": "corrected",
    "past correcting": "past_correcting",
    "crowns still owed": "dose_owed_at_end",
    "peak backlog": "peak_backlog",
    "backlog gone": GONE,
}
"""Of the table of intervals: its titles and the figures under them."""
WARD_COLUMNS = {
    "all on recall, %": "on_recall_share",
    "young on recall, %": "young_on_recall_share",
}


def between(figures: OutlookFigures, budget: str, figure: str) -> str:
    """Say where nine draws in ten of what all years come to lie, nothing without draws.

    Parameters
    ----------
    figures : OutlookFigures
    budget : str
    figure : str
        As in the tables of intervals.

    Returns
    -------
    str
    """
    found = figures.interval(budget, figure)
    if found is None:
        return ""
    low, high = found["low"], found["high"]
    if figure == GONE:
        return _years_between(low, high, figures.last_year)
    if figure == "cents":
        least, most = f"{low / CENTS:,.0f}", f"{high / CENTS:,.0f}"
        return f"{_range(least, most)} {figures.currency}"
    return written_range(low, high, percent=figure in PERCENT)


def in_brackets(words: str) -> str:
    """Put an interval behind a figure, nothing where there is none.

    Parameters
    ----------
    words : str
        From :func:`between`.

    Returns
    -------
    str
    """
    return f" ({words})" if words else ""


def interval_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return the table of intervals, a row per budget, in the order of ``COLUMNS``.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of tuple of str
        Empty without draws.
    """
    return [
        (budget, *(between(figures, budget, figure) for figure in COLUMNS.values()))
        for budget in figures.budgets
        if figures.interval(budget, GONE) is not None
    ]


def ward_rows(figures: OutlookFigures) -> list[tuple[str, ...]]:
    """Return shares on recall in the last year by ward, expected and where nine in ten lie.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of tuple of str
        For the budget of reference; empty without draws.
    """
    table = figures.ward_intervals
    if table is None:
        return []
    mask = (table["budget"] == figures.reference) & (table["year"] == figures.last_year)
    rows = []
    for ward, own in table[mask].groupby("ward", sort=False):
        cells = []
        for figure in WARD_COLUMNS.values():
            row = own[own["figure"] == figure].iloc[0]
            cells += [
                percentage(row["expected"]),
                written_range(*row[["low", "high"]], percent=True),
            ]
        rows.append((str(ward), *cells))
    return rows


def backlog_in_draws(figures: OutlookFigures) -> list[str]:
    """Say in how many draws the backlog is gone within the years shown, by budget.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    list of str
        One sentence; none without draws.
    """
    parts = []
    for budget in figures.budgets:
        found = figures.interval(budget, GONE)
        if found is not None:
            draws = int(found["draws"])
            gone = draws - int(found["never"])
            parts.append(f"in {gone} of {draws} draws with the budget {budget}")
    if not parts:
        return []
    return [f"The backlog is gone by the end of {figures.last_year} {_listed(parts)}."]


def targets_in_draws(figures: OutlookFigures) -> str:
    """Say in how many draws the least budget, and those asked for, reach the targets.

    Parameters
    ----------
    figures : OutlookFigures

    Returns
    -------
    str
        Empty without draws or targets.
    """
    met, draws = (figures.facts.get("least_budget") or {}).get("draws_met"), figures.facts["draws"]
    if not met or not draws:
        return ""
    least = f"This money reaches it in {met['least']} of {draws} draws"
    others = [
        f"the budget {budget} in {met[budget]}" for budget in figures.budgets if budget in met
    ]
    return (
        f" {least}, {_listed(others)}. This is a count of draws: the least budget has no interval."
    )


def written_range(low: float, high: float, *, percent: bool) -> str:
    """Write an interval, once where both ends read alike.

    Parameters
    ----------
    low, high : float
    percent : bool
        They are shares, to be written in percent.

    Returns
    -------
    str
    """
    write = percentage if percent else "{:,.0f}".format
    return _range(write(low), write(high))


def _years_between(low: float, high: float, last_year: int) -> str:
    if pd.isna(low):
        return f"after {last_year}"
    return f"{low:.0f} to after {last_year}" if pd.isna(high) else _range(*map(_year, (low, high)))


def _year(year: float) -> str:
    return f"{year:.0f}"


def _range(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"


def _listed(parts: list[str]) -> str:
    """Join parts of a sentence."""
    return " and ".join([*([", ".join(parts[:-1])] if parts[:-1] else []), parts[-1]])
