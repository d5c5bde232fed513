"""The outlook's summary for the terminal."""

import pandas as pd

CENTS = 100
HEADER = (
    "budget",
    "choice",
    "money",
    "visits",
    "young on recall, %",
    "all on recall, %",
    "past correcting",
    "backlog gone",
    "gap, %",
)


def summary_rows(summary: pd.DataFrame) -> list[tuple[object, ...]]:
    """Return a row per budget and choice in the order of ``HEADER``.

    Shares on recall are those at the end of the last year.

    Parameters
    ----------
    summary : DataFrame
        From :func:`forestcycle.outlook.summary`.

    Returns
    -------
    list of tuple of str
    """
    shown = summary.assign(
        money=[f"{cents / CENTS:,.0f}" for cents in summary["cents"]],
        visits=summary["visits"].map("{:,.0f}".format),
        young=(100 * summary["young_on_recall_share_at_end"]).map("{:.1f}".format),
        every=(100 * summary["on_recall_share_at_end"]).map("{:.1f}".format),
        lost=summary["past_correcting"].map("{:,.0f}".format),
        gone=["not yet" if pd.isna(year) else str(year) for year in summary["backlog_gone_year"]],
        gap=[f"{100 * gap:.2f}" if gap >= 0 else "" for gap in summary["gap"]],
    )
    columns = ["budget", "choice", "money", "visits", "young", "every", "lost", "gone", "gap"]
    return list(shown[columns].itertuples(index=False, name=None))
