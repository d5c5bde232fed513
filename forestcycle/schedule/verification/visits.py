"""Each visit by itself: a real tree, a permitted day, an able crew, a safe dose."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault
from forestcycle.schedule.verification.files import PlanFiles, closed_windows, faults_where

DOSE_TOLERANCE = 1e-9


def check_trees(plan: PlanFiles) -> list[Fault]:
    """Check that every stop is at a tree of the inventory, and no tree has two.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    ids = plan.stops["tree_id"]
    trees = plan.trees["tree_id"]
    planned = trees.isin(ids)
    booked = plan.stops.drop_duplicates("tree_id").set_index("tree_id")
    ours = plan.trees[planned & ~trees.duplicated()]
    stop = booked.reindex(ours.index)
    must = plan.trees["mandatory"].astype(bool) & (plan.trees["place"] >= 0)
    broken = must & ~planned if _promised(plan) else np.zeros(len(trees), dtype=np.bool_)
    return [
        *faults_where(trees.duplicated(), trees, "is listed twice", "trees"),
        *faults_where(~ids.isin(trees), ids, "is no tree of the inventory", "stops"),
        *faults_where(ids.duplicated(), ids, "is visited twice", "stops"),
        *faults_where(broken, trees, "is mandatory and not planned", "trees"),
        *faults_where(
            (plan.trees["crew_day_id"] != "") & ~planned,
            trees,
            "has a crew-day but no stop",
            "trees",
        ),
        *faults_where(
            (ours["crew_day_id"] != stop["crew_day_id"]) | (ours["planned_on"] != stop["date"]),
            ours["tree_id"],
            "its crew-day or date is not that of its stop",
            "trees",
        ),
        *faults_where(
            ~planned & (plan.trees["reason"] == ""), trees, "is left out without a reason", "trees"
        ),
        *faults_where(
            planned & (plan.trees["reason"] != ""), trees, "is planned, yet has a reason", "trees"
        ),
    ]


def _promised(plan: PlanFiles) -> bool:
    prices = plan.tables["prices"]
    return bool((prices.loc[prices["kind"] == "promised", "price"] > 0).all())


def check_dates(plan: PlanFiles) -> list[Fault]:
    """Check year, recall, deadline and closed seasons of every visit.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    date, ids = plan.stops["date"], plan.stops["tree_id"]
    city = plan.settings.city
    outside = (date < pd.Timestamp(city.year_start)) | (date > pd.Timestamp(city.year_end))
    return [
        *faults_where(outside, ids, "is visited outside the plan's year", "stops"),
        *faults_where(
            date < plan.tree_of_stop("not_before"), ids, "is visited before its recall", "stops"
        ),
        *faults_where(
            date > plan.tree_of_stop("deadline"), ids, "is visited after its deadline", "stops"
        ),
        *faults_where(
            in_closed_window(date, plan.tree_of_stop("closed_windows").fillna("")),
            ids,
            "is visited in a closed season",
            "stops",
        ),
    ]


def in_closed_window(date: pd.Series, windows: pd.Series) -> NDArray[np.bool_]:
    """Whether each date lies in one of its row's closed windows.

    Parameters
    ----------
    date : (n,) Series of datetime64
    windows : (n,) Series of str

    Returns
    -------
    (n,) bool
    """
    code, texts = pd.factorize(windows)
    closed = np.zeros(len(date), dtype=np.bool_)
    for number, text in enumerate(texts):
        rows = np.flatnonzero(code == number)
        for first, last in closed_windows(str(text)):
            day = date.iloc[rows]
            closed[rows] |= ((day >= first) & (day <= last)).to_numpy()
    return closed


def check_doses(plan: PlanFiles) -> list[Fault]:
    """Check that no visit takes more live crown than the tree's limit, or than was prescribed.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    dose, ids = plan.stops["dose"], plan.stops["tree_id"]
    over = dose > plan.tree_of_stop("dose_limit") + DOSE_TOLERANCE
    changed = (dose - plan.tree_of_stop("dose")).abs() > DOSE_TOLERANCE
    return [
        *faults_where(over, ids, "takes more than its dose limit", "stops"),
        *faults_where(changed, ids, "takes another dose than prescribed", "stops"),
    ]


def check_skills(plan: PlanFiles) -> list[Fault]:
    """Check that every crew can do the work at its stops; work from the ground anyone can do.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    able = {crew.name: {*crew.skills, "ground"} for crew in plan.settings.crews}
    needed = plan.tree_of_stop("skill").astype(object)
    lacks = [
        skill not in able.get(str(crew), set())
        for crew, skill in zip(plan.stops["crew"], needed, strict=True)
    ]
    return faults_where(
        np.array(lacks, dtype=np.bool_), plan.stops["tree_id"], "its crew lacks the skill", "stops"
    )
