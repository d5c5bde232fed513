"""Visits that were made this year, and what they cost beside the plan."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import TABLES, PlanInForce
from forestcycle.practice import Assessment
from forestcycle.practice.history import NOT_WORKED
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.settings.money import Budget


def visits_done(city: City) -> pd.DataFrame:
    """Visits of this plan's year in which work was done.

    Parameters
    ----------
    city : City

    Returns
    -------
    DataFrame
        ``tree_id visited_on crew outcome ...``, sorted by tree and day.
    """
    visits, span = city.inventory.visits, city.settings.city
    day = visits["visited_on"]
    worked = ~visits["outcome"].fillna("").astype(str).str.casefold().isin(NOT_WORKED)
    ours = (day >= pd.Timestamp(span.year_start)) & (day <= pd.Timestamp(span.year_end))
    return visits[worked & ours].sort_values(["tree_id", "visited_on", "crew"], ignore_index=True)


def done_as_planned(plan: PlanInForce, done: pd.DataFrame) -> pd.DataFrame:
    """Pick the stops of the plan that were made on their own crew-day.

    Parameters
    ----------
    plan : PlanInForce
    done : DataFrame
        From :func:`visits_done`.

    Returns
    -------
    DataFrame
        Rows of ``plan.stops``.
    """
    told = pd.MultiIndex.from_arrays(
        [done["tree_id"], done["visited_on"].dt.normalize(), _plain(done["crew"])]
    )
    planned = pd.MultiIndex.from_arrays(
        [plan.stops["tree_id"], plan.stops["date"], _plain(plan.stops["crew"])]
    )
    return plan.stops[planned.isin(told)]


def _plain(names: pd.Series) -> pd.Series:
    return names.fillna("").astype(str).str.strip().str.casefold()


def done_table(
    city: City,
    plan: PlanInForce,
    assessment: Assessment,
    done: pd.DataFrame,
    in_plan: set[str],
    from_day: date,
) -> pd.DataFrame:
    """Table ``done``: this year's visits, and what those cost that the plan's days do not hold.

    A crew-day that is past, has such visits and none of the plan is paid once.

    Parameters
    ----------
    city : City
    plan : PlanInForce
    assessment : Assessment
        As of now.
    done : DataFrame
        From :func:`visits_done`.
    in_plan : set of str
        Trees visited as planned.
    from_day : date

    Returns
    -------
    DataFrame
        Columns of :data:`forestcycle.cycle.in_force.TABLES`.
    """
    table = done.drop_duplicates("tree_id")[["tree_id", "visited_on", "crew", "outcome"]].copy()
    judged = assessment.trees.set_index("tree_id").reindex(table["tree_id"])
    funds = city.inventory.trees.set_index("tree_id")["fund"].reindex(table["tree_id"])
    table["fund"] = funds.fillna("").to_numpy()
    table["worth"] = judged["priority"].fillna(0.0).to_numpy()
    table["cost_cents"] = judged["cost_cents"].fillna(0).to_numpy()
    before = plan.trees.reindex(table["tree_id"])
    planned = table["tree_id"].isin(set(plan.stops["tree_id"])).to_numpy()
    for name, column in (("worth", "priority"), ("cost_cents", "cost_cents")):
        table.loc[planned, name] = before[column].to_numpy()[planned]
    again = plan.done.drop_duplicates("tree_id").set_index("tree_id").reindex(table["tree_id"])
    told_before = again["worth"].notna().to_numpy()
    for name in ("worth", "cost_cents"):
        table.loc[told_before, name] = again[name].to_numpy()[told_before]
    table["in_plan"] = table["tree_id"].isin(in_plan)
    table["day_cost_cents"] = _day_costs(city, table, from_day)
    return table.astype(dict(TABLES["done"]))[list(TABLES["done"])]


def _day_costs(city: City, table: pd.DataFrame, from_day: date) -> IntArray:
    day = table["visited_on"].dt.strftime("%Y-%m-%d") + " " + table["crew"].fillna("").astype(str)
    paid_by_plan = set(day[table["in_plan"]])
    cost = table["crew"].map({crew.name: crew.day_cost_cents for crew in city.settings.crews})
    counts = (
        ~table["in_plan"]
        & ~day.isin(paid_by_plan)
        & (table["visited_on"] < pd.Timestamp(from_day))
        & ~day.where(~table["in_plan"]).duplicated()
    )
    return np.where(counts, cost.fillna(0), 0).astype(np.int64)


def less_spent(problem: Problem, done: pd.DataFrame, budget: Budget) -> Problem:
    """Take what was spent beside the plan off the budgets.

    Parameters
    ----------
    problem : Problem
    done : DataFrame
        From :func:`done_table`.
    budget : Budget
        Names the funds in the problem's order.

    Returns
    -------
    Problem
    """
    aside = done[~done["in_plan"]]
    funds = list(budget.fund_cents)
    by_fund = aside.groupby("fund")["cost_cents"].sum().reindex(funds, fill_value=0)
    spent = int(aside["cost_cents"].sum() + aside["day_cost_cents"].sum())
    year = problem.budget_cents
    return replace(
        problem,
        budget_cents=None if year is None else year - spent,
        fund_budget_cents=problem.fund_budget_cents - by_fund.to_numpy(np.int64),
    )
