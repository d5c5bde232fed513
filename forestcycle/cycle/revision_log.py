"""The table ``changes`` of a plan: each revision and each undoing of one, as they came."""

from datetime import UTC, datetime

import pandas as pd

from forestcycle.cycle.in_force import TABLES
from forestcycle.cycle.revision_kinds import CAME, LEFT, MOVES
from forestcycle.cycle.revision_report import RevisionReport
from forestcycle.fieldwork.books import NOTHING, UNDO

REVISE = "revise"


def with_revision(known: pd.DataFrame, report: RevisionReport, input_sha256: str) -> pd.DataFrame:
    """Append a revision.

    Parameters
    ----------
    known : DataFrame
        Table ``changes``.
    report : RevisionReport
    input_sha256 : str
        Of the inventory.

    Returns
    -------
    DataFrame
        Table ``changes``, this one last.
    """
    return _with(
        known,
        command=REVISE,
        from_day=report.from_day,
        facts=report.facts,
        input_sha256=input_sha256,
        moved=sum(report.counts[kind] for kind in MOVES),
        left=report.counts[LEFT],
        came=report.counts[CAME],
        undoes=NOTHING,
    )


def with_undoing(known: pd.DataFrame, revision: pd.Series) -> pd.DataFrame:
    """Append the undoing of a revision.

    Parameters
    ----------
    known : DataFrame
        Table ``changes``.
    revision : Series
        Its row of the revision.

    Returns
    -------
    DataFrame
        Table ``changes``, the undoing last.
    """
    number = int(revision["change"])
    return _with(
        known,
        command=UNDO,
        from_day=str(revision["from_day"]),
        facts=f"undoes change {number}",
        input_sha256="",
        moved=-int(revision["moved"]),
        left=-int(revision["left"]),
        came=-int(revision["came"]),
        undoes=number,
    )


def last_number(changes: pd.DataFrame) -> int:
    """Return the number of the last change.

    Parameters
    ----------
    changes : DataFrame

    Returns
    -------
    int
        Changes are numbered from 1; 0 where there is none.
    """
    return int(changes["change"].max()) if len(changes) else NOTHING


def last_revision(changes: pd.DataFrame) -> pd.Series | None:
    """Return the last revision that is not undone.

    Parameters
    ----------
    changes : DataFrame

    Returns
    -------
    Series or None
        Its row; None if there is none.
    """
    revisions = changes[changes["command"] == REVISE]
    standing = revisions[~revisions["change"].isin(changes["undoes"])]
    return standing.iloc[-1] if len(standing) else None


def _with(known: pd.DataFrame, **told: object) -> pd.DataFrame:
    now = datetime.now(UTC).isoformat(timespec="seconds")
    change = {"change": last_number(known) + 1, "at": now, **told}
    row = pd.DataFrame([change]).astype(dict(TABLES["changes"]))
    return pd.concat([known, row], ignore_index=True) if len(known) else row
