"""The year as a whole: money, wards, and the figures of the summary."""

import numpy as np
import pandas as pd

from forestcycle.errors import Fault
from forestcycle.schedule.verification.files import NOT_PLANNABLE, PlanFiles, faults_where

RELATIVE = 1e-6
MINUTES_TOLERANCE = 0.01


def check_money(plan: PlanFiles) -> list[Fault]:
    """Check that costs add up and stay within the budget and every fund.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stops, budget = plan.stops, plan.settings.budget
    days = plan.crew_days[~plan.crew_days.index.duplicated()]
    day_cost = days["crew"].map({crew.name: crew.day_cost_cents for crew in plan.settings.crews})
    direct = stops.groupby("crew_day_id")["cost_cents"].sum().reindex(days.index)
    expected = (direct + day_cost).fillna(0)
    aside = plan.done_aside
    total = int(expected.sum() + aside["cost_cents"].sum() + aside["day_cost_cents"].sum())
    fund = stops["cost_cents"].groupby(plan.tree_of_stop("fund")).sum()
    fund = fund.add(aside.groupby("fund")["cost_cents"].sum(), fill_value=0)
    over = [
        Fault(f"costs {fund.get(name, 0):,} cents of {limit:,}", f"fund {name!r}")
        for name, limit in budget.fund_cents.items()
        if fund.get(name, 0) > limit
    ]
    if budget.year_cents is not None and total > budget.year_cents:
        over.append(Fault(f"costs {total:,} cents of {budget.year_cents:,}", "budget.year_cents"))
    changed = stops["cost_cents"] != plan.tree_of_stop("cost_cents")
    return [
        *faults_where(changed, stops["tree_id"], "its cost is not the tree's", "stops"),
        *faults_where(
            days["cost_cents"] != expected,
            days["crew_day_id"],
            "its cost does not add up",
            "crew_days",
        ),
        *over,
    ]


def check_wards(plan: PlanFiles) -> list[Fault]:
    """Check that each ward has its least share of the minutes at trees.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    minutes = plan.stops["service_minutes"]
    by_ward = minutes.groupby(plan.tree_of_stop("ward")).sum()
    total = float(minutes.sum())
    return [
        Fault(f"has {by_ward.get(ward, 0.0):,.1f} of {total:,.1f} minutes, below {share:.0%}", ward)
        for ward, share in plan.settings.plan.ward_least_share.items()
        if by_ward.get(ward, 0.0) < share * total - MINUTES_TOLERANCE
    ]


def check_worth(plan: PlanFiles) -> list[Fault]:
    """Check that the plan's worth is the sum of its trees' priorities.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    return _differs("run: worth", float(plan.facts["worth"]), _worth(plan))


def check_summary(plan: PlanFiles) -> list[Fault]:
    """Check that the figures of ``summary.json`` are those of the tables.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
        None where there is no summary.
    """
    if plan.summary is None:
        return []
    trees, days = plan.trees, plan.crew_days
    left_out = trees.loc[trees["reason"] != "", "reason"].value_counts().to_dict()
    bound = float(plan.facts["bound"])
    figures = {
        "trees_usable": len(trees),
        "trees_eligible": int((trees["place"] >= 0).sum()),
        "trees_planned": len(plan.stops),
        "crew_days_available": int((~days["use"].isin(NOT_PLANNABLE)).sum()),
        "crew_days_used": int(plan.stops["crew_day_id"].nunique()),
        "worth": _worth(plan),
        "bound": bound,
        "gap": max(0.0, 1 - _worth(plan) / bound) if bound > 0 and np.isfinite(bound) else 0.0,
        "minutes_service": float(days["service_minutes"].sum()),
        "minutes_travel": float(days["travel_minutes"].sum()),
        "cost_cents": int(days["cost_cents"].sum()),
    }
    wrong = [
        fault
        for key, value in figures.items()
        if key in plan.summary
        for fault in _differs(f"summary.json: {key}", float(plan.summary[key]), float(value))
    ]
    if plan.summary.get("unplanned_reasons", left_out) != left_out:
        wrong.append(Fault("does not count the trees' reasons", "summary.json: unplanned_reasons"))
    return wrong


def _worth(plan: PlanFiles) -> float:
    worth = plan.tree_of_stop("priority")
    return float(pd.Series(worth).clip(lower=1e-9).sum())


def _differs(where: str, stated: float, found: float) -> list[Fault]:
    if stated == found or abs(stated - found) <= RELATIVE * max(1.0, abs(found)):
        return []
    return [Fault(f"states {stated:,.6g}, the tables give {found:,.6g}", where)]
