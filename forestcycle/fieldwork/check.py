"""Which returns can be recorded, which are there already, and which say what cannot be."""

from collections.abc import Container
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

VISIT = ["tree_id", "visited_on", "crew"]
"""What makes two returns returns of the same visit."""
FACTS = ["outcome", "minutes", "dose"]
"""In what two returns of one visit must agree."""
MOST_MINUTES = 24 * 60.0


@dataclass(frozen=True)
class Checked:
    """Returns sorted by what can be done with them.

    Attributes
    ----------
    new : DataFrame
        To be recorded, sorted by visit.
    known : int
        Returns that say what is recorded already.
    refused : DataFrame
        ``row tree_id visited_on crew fault remedy``.
    warnings : DataFrame
        Same columns; recorded all the same.
    """

    new: pd.DataFrame
    known: int
    refused: pd.DataFrame
    warnings: pd.DataFrame

    def warned(self, more: pd.DataFrame) -> "Checked":
        """Return the same with further warnings.

        Parameters
        ----------
        more : DataFrame
            In the layout of ``warnings``.

        Returns
        -------
        Checked
        """
        return replace(self, warnings=_joined([self.warnings, more]))


def check_returns(
    returns: pd.DataFrame, recorded: pd.DataFrame, trees: Container[str], *, today: date
) -> Checked:
    """Sort returns; the order of rows makes no difference.

    Parameters
    ----------
    returns : DataFrame
        From :func:`~forestcycle.fieldwork.returns.read_returns`.
    recorded : DataFrame
        Every visit on record: ``tree_id visited_on crew outcome minutes dose``.
    trees : container of str
        Ids of the usable trees.
    today : date
        A later visit has not happened yet.

    Returns
    -------
    Checked
    """
    refused = _impossible(returns, trees, today)
    sound = returns[~returns["row"].isin(refused["row"])]
    distinct = sound.drop_duplicates(VISIT + FACTS)
    several = distinct.duplicated(VISIT, keep=False)
    disputed = sound.merge(distinct.loc[several, VISIT].drop_duplicates(), on=VISIT)
    refused_twice = _told(
        disputed,
        "two returns of this visit differ",
        "ask the crew which one is true, and send that one",
    )
    single = distinct[~several]
    before = single.merge(
        recorded[VISIT + FACTS].drop_duplicates(VISIT), on=VISIT, how="left", indicator=True,
        suffixes=("", "_before"),
    )  # fmt: skip
    on_record = (before["_merge"] == "both").to_numpy()
    differs = on_record & ~_agree(before)
    refused_before = _told(
        before[differs],
        "differs from what is recorded for this visit",
        "undo that record first if this one is true",
    )
    new = single[~on_record].sort_values(VISIT, ignore_index=True)
    over = new["dose"] > new["dose_limit"] + 1e-9
    warning = "took more than the limit for this visit"
    return Checked(
        new=new,
        known=len(sound) - len(disputed) - len(new) - len(refused_before),
        refused=_joined([refused, refused_twice, refused_before]),
        warnings=_told(new[over], warning, "recorded as told; the tree rests longer"),
    )


def _impossible(returns: pd.DataFrame, trees: Container[str], today: date) -> pd.DataFrame:
    known = np.array([tree in trees for tree in returns["tree_id"]], dtype=bool)
    minutes, dose, skipped = returns["minutes"], returns["dose"], returns["outcome"] == "skipped"
    future = returns["visited_on"] > pd.Timestamp(today)
    faults = [
        _told(returns[~known], "no usable tree with this id", "correct the id, or its tree"),
        _told(returns[returns["crew"] == ""], "no crew", "say which crew it was"),
        _told(returns[future], f"lies after {today}", "correct the date"),
        _told(returns[(dose < 0) | (dose > 1)], "dose not within 0 to 100 %", "correct the dose"),
        _told(
            returns[(minutes < 0) | (minutes > MOST_MINUTES)],
            "minutes not within one day",
            "correct the minutes",
        ),
        _told(returns[skipped & (dose > 0)], "skipped, yet with a dose", "correct one of the two"),
    ]
    unreadable = returns[returns["unreadable"] != ""]
    faults.append(
        _told(unreadable, "", "correct the entry").assign(fault=unreadable["unreadable"].to_numpy())
    )
    return _joined(faults)


def _agree(before: pd.DataFrame) -> NDArray[np.bool_]:
    same = before["outcome"] == before["outcome_before"]
    for name in ("minutes", "dose"):
        told, known = before[name], before[f"{name}_before"]
        same &= ((told - known).abs() < 1e-6) | (told.isna() & known.isna())
    return same.to_numpy(dtype=bool)


def _told(rows: pd.DataFrame, fault: str, remedy: str) -> pd.DataFrame:
    return rows[["row", *VISIT]].assign(fault=fault, remedy=remedy)


def _joined(parts: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    joined = pd.concat(filled) if filled else parts[0]
    return joined.sort_values(["row", "fault"], ignore_index=True)
