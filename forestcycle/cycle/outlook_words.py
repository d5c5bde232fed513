"""The outlook's summary for the terminal."""

import pandas as pd

from forestcycle.cycle.city import City

CENTS = 100
HEADER = (
    "budget",
    "choice of trees",
    "money",
    "visits",
    "young on recall at the end, %",
    "all on recall at the end, %",
    "past correcting",
    "backlog gone",
    "gap, %",
)


def summary_rows(summary: pd.DataFrame, city: City) -> list[tuple[object, ...]]:
    """Return a row per budget and choice in the order of ``HEADER``.

    Parameters
    ----------
    summary : DataFrame
        From :func:`forestcycle.outlook.summary`.
    city : City

    Returns
    -------
    list of tuple of str
    """
    currency = city.settings.city.currency
    shown = summary.assign(
        money=[f"{cents / CENTS:,.0f} {currency}" for cents in summary["cents"]],
        visits=summary["visits"].map("{:,.0f}".format),
        young=(100 * summary["young_on_recall_share_at_end"]).map("{:.1f}".format),
        every=(100 * summary["on_recall_share_at_end"]).map("{:.1f}".format),
        lost=summary["past_correcting"].map("{:,.0f}".format),
        gone=["not yet" if pd.isna(year) else str(year) for year in summary["backlog_gone_year"]],
        gap=[f"{100 * gap:.2f}" if gap >= 0 else "" for gap in summary["gap"]],
    )
    columns = ["budget", "choice", "money", "visits", "young", "every", "lost", "gone", "gap"]
    return list(shown[columns].itertuples(index=False, name=None))
