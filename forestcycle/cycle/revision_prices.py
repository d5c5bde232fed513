"""Prices of the plan in force, under the names that the problem has now."""

import numpy as np
import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.cycle.crew_day_ids import crew_day_ids
from forestcycle.cycle.in_force import PlanInForce
from forestcycle.schedule.problem import FloatArray, Problem
from forestcycle.schedule.revise_bound import PricesInForce
from forestcycle.schedule.revise_search import MoneyPrices
from forestcycle.schedule.revise_worth import MovePrices


def prices_in_force(city: City, problem: Problem, plan: PlanInForce) -> PricesInForce:
    """Read the prices behind the bound of the plan in force.

    Parameters
    ----------
    city : City
    problem : Problem
    plan : PlanInForce

    Returns
    -------
    PricesInForce
    """
    by_kind = {
        str(kind): rows.set_index("key")["price"].astype(np.float64)
        for kind, rows in plan.prices.groupby("kind")
    }
    none = pd.Series(dtype=np.float64)
    ids = crew_day_ids(city, problem.crew, problem.date)
    funds, wards = plan.settings.budget.fund_cents, plan.settings.plan.ward_least_share

    def named(kind: str, before: list[str], now: list[str]) -> FloatArray:
        rows = by_kind.get(kind, none)
        known = {name: float(rows.get(str(place), 0.0)) for place, name in enumerate(before)}
        return np.array([known.get(name, 0.0) for name in now], dtype=np.float64)

    return PricesInForce(
        minute=by_kind.get("minute", none).reindex(ids).to_numpy(np.float64),
        stop_minute=by_kind.get("stop minute", none).reindex(ids).to_numpy(np.float64),
        cent=float(by_kind.get("cent", none).sum()),
        fund_cent=named("fund cent", list(funds), list(city.settings.budget.fund_cents)),
        ward_minute=named("ward minute", list(wards), list(city.settings.plan.ward_least_share)),
        promised=bool((by_kind.get("promised", none) > 0).all()),
    )


def money_prices(prices: PricesInForce) -> MoneyPrices:
    """Keep the prices that concern money and wards.

    Parameters
    ----------
    prices : PricesInForce

    Returns
    -------
    MoneyPrices
    """
    return MoneyPrices(prices.cent, prices.fund_cent, prices.ward_minute)


def move_prices(city: City) -> MovePrices:
    """Read from the settings what it costs to move a visit.

    Parameters
    ----------
    city : City

    Returns
    -------
    MovePrices
    """
    rules = city.settings.revision
    return MovePrices(rules.price_other_day, rules.price_other_crew)
