"""Visits that were made this year, and what they cost beside the plan."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import TABLES, PlanInForce
from forestcycle.fieldwork.books import read_books
from forestcycle.inventory.schema import VISIT, VISIT_COLUMNS
from forestcycle.inventory.source import books_path
from forestcycle.practice import Assessment
from forestcycle.practice.history import NOT_WORKED
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.settings.money import Budget

FIGURES = {"fund": "", "worth": 0.0, "cost_cents": 0}
"""What a visit counts as where nothing is known of it."""


def visits_done(city: City) -> pd.DataFrame:
    """Visits of this plan's year in which work was done, those of trees felled since too.

    Parameters
    ----------
    city : City

    Returns
    -------
    DataFrame
        ``tree_id visited_on crew outcome ...``, sorted by tree and day.
    """
    visits, span = _all_visits(city), city.settings.city
    day = visits["visited_on"]
    worked = ~visits["outcome"].fillna("").astype(str).str.casefold().isin(NOT_WORKED)
    ours = (day >= pd.Timestamp(span.year_start)) & (day <= pd.Timestamp(span.year_end))
    return visits[worked & ours].sort_values(VISIT, ignore_index=True)


def _all_visits(city: City) -> pd.DataFrame:
    """Visits of the inventory's trees, and of those in the books that it no longer has."""
    known, file = city.inventory.visits, books_path(city.settings, city.folder)
    if not file.exists():
        return known
    told = read_books(file).visits[list(VISIT_COLUMNS)]
    gone = told[~told["tree_id"].isin(set(city.inventory.trees["tree_id"]))]
    return pd.concat([known, gone], ignore_index=True) if len(gone) else known


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
    lost: pd.DataFrame,
    from_day: date,
) -> pd.DataFrame:
    """Table ``done``: this year's visits, and what those cost that the plan's days do not hold.

    A crew-day that is past or was lost half way, has such visits and none of the plan is paid once.

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
    lost : DataFrame
        ``crew date use``.
    from_day : date

    Returns
    -------
    DataFrame
        Columns of :data:`forestcycle.cycle.in_force.TABLES`.
    """
    table = done.drop_duplicates("tree_id")[["tree_id", "visited_on", "crew", "outcome"]].copy()
    table[list(FIGURES)] = _figures(city, plan, assessment, table["tree_id"]).to_numpy()
    table["in_plan"] = table["tree_id"].isin(in_plan)
    table["day_cost_cents"] = _day_costs(table, _cost_of_a_day(city, plan), lost, from_day)
    return table.astype(dict(TABLES["done"]))[list(TABLES["done"])]


def _figures(city: City, plan: PlanInForce, assessment: Assessment, ids: pd.Series) -> pd.DataFrame:
    """Fund, worth and cost of visits: as told before, as planned, else as the tree is judged."""
    then = plan.trees.rename(columns={"priority": "worth"})
    now = assessment.trees.set_index("tree_id").rename(columns={"priority": "worth"})
    now["fund"] = city.inventory.trees.set_index("tree_id")["fund"].reindex(now.index)
    sources = (
        plan.done.drop_duplicates("tree_id").set_index("tree_id"),
        then[then.index.isin(set(plan.stops["tree_id"]))],
        now,
        then,
        pd.DataFrame(FIGURES, index=ids),
    )
    first, *others = (source[list(FIGURES)].reindex(ids).astype(object) for source in sources)
    for other in others:
        first = first.where(first.notna(), other)
    return first


def _cost_of_a_day(city: City, plan: PlanInForce) -> dict[str, int]:
    """Cents of a day by crew, of crews that the settings no longer have too."""
    told = plan.done.groupby("crew")["day_cost_cents"].max()
    costs = {str(crew): int(cents) for crew, cents in told.items()}
    for settings in (plan.settings, city.settings):
        costs |= {crew.name: crew.day_cost_cents for crew in settings.crews}
    return costs


def _day_costs(
    table: pd.DataFrame, cost_of_a_day: Mapping[str, int], lost: pd.DataFrame, from_day: date
) -> IntArray:
    day = _names(table["visited_on"], table["crew"])
    over = (table["visited_on"] < pd.Timestamp(from_day)) | day.isin(
        _names(lost["date"], lost["crew"])
    )
    paid_by_plan = set(day[table["in_plan"]])
    cost = table["crew"].map(cost_of_a_day)
    counts = (
        ~table["in_plan"]
        & ~day.isin(paid_by_plan)
        & over
        & ~day.where(~table["in_plan"]).duplicated()
    )
    return np.where(counts, cost.fillna(0), 0).astype(np.int64)


def _names(day: pd.Series, crew: pd.Series) -> pd.Series:
    names: pd.Series = day.dt.strftime("%Y-%m-%d") + " " + crew.fillna("").astype(str)
    return names


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
