"""What a revision changed, visit by visit."""

from collections import Counter
from collections.abc import Mapping
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.cycle.in_force import PlanInForce
from forestcycle.cycle.revision_kinds import (
    BOTH,
    CAME,
    CREW,
    DAY,
    DONE,
    ELSEWHERE,
    KINDS,
    LEFT,
    ORDER,
    STAYED,
)
from forestcycle.cycle.revision_why import Change, Why

COLUMNS = str.split(
    "tree_id change from_day from_crew from_order to_day to_crew to_order worth why"
)


def compare(
    plan: PlanInForce,
    stops: pd.DataFrame,
    done: pd.DataFrame,
    lost: pd.DataFrame,
    reason_of: pd.Series,
    barred: Mapping[str, str],
    news: set[str],
    missed: Mapping[str, date],
    from_day: date,
) -> pd.DataFrame:
    """List every visit of the plan in force and of the revised one.

    Parameters
    ----------
    plan : PlanInForce
    stops : DataFrame
        Of the revised plan.
    done : DataFrame
        Visits done this year, as in the table ``done``.
    lost : DataFrame
        ``crew date use``.
    reason_of : Series of str
        By ``tree_id``: why a tree is not in the revised plan.
    barred : mapping of str to str
        By ``tree_id``: why a visit cannot be where the plan in force has it.
    news : set of str
        Trees that are worth more, or may be visited on more days, than before.
    missed : mapping of str to date
        Mandatory trees not visited by their deadline.
    from_day : date

    Returns
    -------
    DataFrame
        ``COLUMNS``; what changed comes first.
    """
    names = ["tree_id", "date", "crew", "stop_order", "priority"]
    both = plan.stops[names].merge(
        stops[names], on="tree_id", how="outer", suffixes=("_old", "_new")
    )
    both["change"] = _changes(both, done)
    why = Why(plan, stops, done, lost, reason_of, barred, news, missed, from_day)
    table = pd.DataFrame(
        {
            "tree_id": both["tree_id"],
            "change": both["change"],
            "from_day": both["date_old"].dt.strftime("%Y-%m-%d").fillna(""),
            "from_crew": both["crew_old"].fillna(""),
            "from_order": both["stop_order_old"].astype("Int64"),
            "to_day": both["date_new"].dt.strftime("%Y-%m-%d").fillna(""),
            "to_crew": both["crew_new"].fillna(""),
            "to_order": both["stop_order_new"].astype("Int64"),
            "worth": both["priority_new"].fillna(both["priority_old"]).round(2),
        }
    )
    rows = table[list(Change._fields)].itertuples(index=False, name=None)
    table["why"] = [
        "" if change.change in (STAYED, DONE) else why.told(change)
        for change in map(Change._make, rows)
    ]
    rank = table["change"].map({kind: place for place, kind in enumerate(KINDS)})
    order = np.lexsort([table["from_order"].fillna(0), table["from_day"], rank])
    return table.iloc[order].reset_index(drop=True)[COLUMNS]


def _changes(both: pd.DataFrame, done: pd.DataFrame) -> NDArray[np.object_]:
    old, new = both["date_old"].notna(), both["date_new"].notna()
    in_plan = both["tree_id"].isin(done.loc[done["in_plan"], "tree_id"])
    elsewhere = both["tree_id"].isin(done.loc[~done["in_plan"], "tree_id"])
    day, crew = both["date_old"] != both["date_new"], both["crew_old"] != both["crew_new"]
    order = _reordered(both)
    conditions = [in_plan, elsewhere, ~old, ~new, day & crew, day, crew, order]
    kinds = [DONE, ELSEWHERE, CAME, LEFT, BOTH, DAY, CREW, ORDER]
    return np.select([c.to_numpy(bool) for c in conditions], kinds, default=STAYED).astype(object)


def _reordered(both: pd.DataFrame) -> pd.Series:
    """Whether a visit stands elsewhere among those that stay on its crew-day."""
    stay = (both["date_old"] == both["date_new"]) & (both["crew_old"] == both["crew_new"])
    by_day = both[stay].groupby(["date_new", "crew_new"])
    moved = by_day["stop_order_old"].rank() != by_day["stop_order_new"].rank()
    return moved.reindex(both.index, fill_value=False)


def count_changes(table: pd.DataFrame) -> dict[str, int]:
    """Count visits by kind of change.

    Parameters
    ----------
    table : DataFrame
        From :func:`compare`.

    Returns
    -------
    dict of str to int
        Every kind, those without a visit too.
    """
    counts = Counter(table["change"].tolist())
    return {kind: counts.get(kind, 0) for kind in KINDS}
