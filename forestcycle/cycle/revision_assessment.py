"""Trees as a revision judges them: what was done and what was missed set apart."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.cycle.in_force import PlanInForce
from forestcycle.practice import Assessment
from forestcycle.practice.assessment import TREE_DTYPES


def with_history(
    assessment: Assessment, plan: PlanInForce, as_planned: pd.Series, done: pd.Series
) -> Assessment:
    """Let visits already made stand as they were planned, and ask nothing more of their trees.

    Parameters
    ----------
    assessment : Assessment
        As of now.
    plan : PlanInForce
    as_planned : Series of str
        Trees visited on their crew-day: they keep the plan's own judgement.
    done : Series of str
        All trees visited this year: no promise binds them any more.

    Returns
    -------
    Assessment
    """
    trees = assessment.trees.copy()
    row = np.flatnonzero(trees["tree_id"].isin(set(as_planned)))
    before = plan.trees.loc[trees["tree_id"].iloc[row]]
    for name, dtype in TREE_DTYPES.items():
        if name in ("tree_id", "season"):
            continue
        values = before[name]
        if "datetime" in dtype:
            values = pd.to_datetime(values)
        elif dtype == "str":
            values = values.astype(object).where(values.notna(), "")
        column = trees[name].copy()
        column.iloc[row] = values.astype(column.dtype).array
        trees[name] = column
    season = trees["season"].to_numpy(copy=True)
    season[row] = len(assessment.season_closed)
    trees["season"] = season
    elsewhere = trees["tree_id"].isin(set(done) - set(as_planned))
    trees["mandatory"] = trees["mandatory"] & ~elsewhere
    return replace(assessment, trees=trees, season_closed=[*assessment.season_closed, []])


def without_missed(
    assessment: Assessment, done: pd.Series, from_day: date
) -> tuple[Assessment, dict[str, date]]:
    """Free mandatory trees whose deadline has passed from what no day ahead can keep.

    They keep their worth, which is that of mandatory trees, and compete for a day.

    Parameters
    ----------
    assessment : Assessment
    done : Series of str
        Trees visited this year.
    from_day : date

    Returns
    -------
    assessment : Assessment
    missed : dict of str to date
        Deadline by tree.
    """
    trees = assessment.trees
    late = trees["deadline"] < pd.Timestamp(from_day)
    missed = trees["mandatory"] & late & ~trees["tree_id"].isin(set(done))
    told = {
        str(tree): day.date()
        for tree, day in trees.loc[missed, ["tree_id", "deadline"]].itertuples(index=False)
    }
    freed = trees.assign(
        mandatory=trees["mandatory"] & ~missed, deadline=trees["deadline"].mask(missed)
    )
    return replace(assessment, trees=freed), told
