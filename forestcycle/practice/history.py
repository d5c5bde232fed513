"""What was done before: the last visit of each tree, and what it took."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.age_class import DAYS_PER_YEAR
from forestcycle.practice.catalogue import FloatArray, IntArray
from forestcycle.practice.set_aside import MOVE_ON, joined, lines_of

NOT_WORKED = ("skipped",)
DOSE_FAULT = "a dose lies between 0 and 1; the visit counts with its dose unknown"
ONE_PIECE_OF_WORK = np.timedelta64(30, "D")
"""Visits so shortly before the last one are its beginning: their doses count together."""
WHOLE_CROWN = 1.0
"""No more can be taken, however often the same visit was written down."""
REMEDY = "correct it in the visits table"


@dataclass(frozen=True)
class History:
    """Past visits, in order of tree and date, and the last one of each tree.

    Attributes
    ----------
    tree : ndarray of int64
        Row of the tree, one entry per visit.
    visited_on : ndarray of datetime64[ns]
    dose : ndarray of float64
        NaN where not recorded.
    last_visit : ndarray of datetime64[ns]
        One entry per tree, NaT where never visited.
    last_dose : ndarray of float64
        Of that day and of the visits shortly before it, NaN where that day's is
        not recorded or never visited.
    """

    tree: IntArray
    visited_on: npt.NDArray[np.datetime64]
    dose: FloatArray
    last_visit: npt.NDArray[np.datetime64]
    last_dose: FloatArray

    def dose_since(self, tree: IntArray, day: npt.NDArray[np.datetime64]) -> FloatArray:
        """Return the dose taken by visits on or after a day, with unrecorded doses as 0.

        Parameters
        ----------
        tree : ndarray of int64
        day : ndarray of datetime64[ns]
            One day per entry of ``tree``; NaT gives 0.

        Returns
        -------
        ndarray of float64
        """
        if not len(self.tree):
            return np.zeros(len(tree))
        running = np.concatenate([[0.0], np.cumsum(np.nan_to_num(self.dose))])
        origin = self.visited_on.min()
        span = int((self.visited_on.max() - origin) / np.timedelta64(1, "D")) + 2
        when = ((self.visited_on - origin) / np.timedelta64(1, "D")).astype(np.int64)
        asked = np.where(np.isnat(day), self.visited_on.max() + np.timedelta64(1, "D"), day)
        offset = ((asked - origin) / np.timedelta64(1, "D")).astype(np.float64)
        keys = self.tree * span + when
        first = np.searchsorted(keys, tree * span + np.clip(offset, 0, span - 1).astype(np.int64))
        last = np.searchsorted(keys, (tree + 1) * span)
        dose: FloatArray = running[last] - running[np.minimum(first, last)]
        return dose


def years_between(
    earlier: npt.NDArray[np.datetime64], later: npt.NDArray[np.datetime64] | np.datetime64
) -> FloatArray:
    """Return years from one day to another, NaN where either is NaT.

    Parameters
    ----------
    earlier, later : (n,) datetime64
        ``later`` may be one day for all.

    Returns
    -------
    (n,) float64
    """
    days: FloatArray = (later - earlier) / np.timedelta64(1, "D")
    return days / DAYS_PER_YEAR


def read_history(
    visits: pd.DataFrame, tree_ids: pd.Index, *, on: date
) -> tuple[History, pd.DataFrame]:
    """Put past visits in order.

    Parameters
    ----------
    visits : DataFrame
        ``tree_id visited_on dose ... outcome``; a skipped visit is none.
    tree_ids : Index
        Ids of the trees, in order.
    on : date
        Day of the assessment; later visits are set aside.

    Returns
    -------
    history : History
    set_aside : DataFrame
        Visits with an impossible date or tree, and impossible doses; where
        only the dose is impossible the visit itself stays in.
    """
    table = visits.reset_index(drop=True)
    table["row"] = np.arange(len(table))
    table["tree"] = tree_ids.get_indexer(pd.Index(table["tree_id"]))
    when = table["visited_on"].to_numpy(dtype="datetime64[ns]")
    dose = table["dose"].to_numpy(dtype="float64")
    impossible = np.isfinite(dose) & ((dose < 0) | (dose > 1))
    in_future = when > np.datetime64(on, "ns")
    no_tree = (table["tree"] < 0).to_numpy()
    no_date = np.isnat(when)
    later = f"visited after the day of the assessment, {on}"
    faults = (
        (no_tree, "tree_id", "no such tree", REMEDY, False),
        (no_date, "visited_on", "a visit without a date", REMEDY, False),
        (in_future, "visited_on", later, MOVE_ON, False),
        (impossible, "dose", DOSE_FAULT, REMEDY, True),
    )
    aside = [
        lines_of(table[bad], "visits", field, fault, remedy, used=used)
        for bad, field, fault, remedy, used in faults
    ]
    worked = ~table["outcome"].fillna("").astype("str").str.lower().isin(NOT_WORKED).to_numpy()
    kept = worked & ~no_tree & ~no_date & ~in_future
    tree = table["tree"].to_numpy(dtype=np.int64)[kept]
    day = when[kept].astype("datetime64[D]").astype("datetime64[ns]")
    taken = np.where(impossible, np.nan, dose)[kept]
    order = np.lexsort((day, tree))
    return _history(tree[order], day[order], taken[order], len(tree_ids)), joined(aside)


def _history(
    tree: IntArray, day: npt.NDArray[np.datetime64], dose: FloatArray, trees: int
) -> History:
    last_visit = np.full(trees, np.datetime64("NaT"), dtype="datetime64[ns]")
    last_visit[tree] = day
    recorded = np.isfinite(dose)
    together = recorded & (last_visit[tree] - day <= ONE_PIECE_OF_WORK)
    total = np.bincount(tree[together], weights=dose[together], minlength=trees)
    on_last = recorded & (last_visit[tree] == day)
    any_recorded = np.bincount(tree[on_last], minlength=trees) > 0
    return History(
        tree=tree,
        visited_on=day,
        dose=dose,
        last_visit=last_visit,
        last_dose=np.where(any_recorded, np.minimum(total, WHOLE_CROWN), np.nan),
    )
