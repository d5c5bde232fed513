"""The bound on sets of routes, computed once more from the prices that the plan states.

For any prices, of which only those of mandatory trees may be below zero, no
plan is worth more than

* each tree at its price, the budget and each fund at the price of a cent, and
* for each crew-day, the most that one route's trees can exceed their prices,
  less what the day costs, and not less than nothing.

The last is stated for every crew-day, and searched here for a route that
gains more (:mod:`forestcycle.schedule.verification.gain_limit`).
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from forestcycle.schedule.verification.files import PlanFiles
from forestcycle.schedule.verification.gain_limit import Day, may_exceed
from forestcycle.schedule.verification.proof import (
    Crews,
    Floats,
    crews_of,
    net_worth,
    open_trees,
    possible_visits,
    prices_by_position,
    single_price,
)

ROUNDING = 1e-9
LEAST_GAIN = 1e-9


def bound_of_routes(plan: PlanFiles) -> float:
    """Compute the bound from ``route_prices`` and ``ways``.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    float
        Infinite where the plan states no such prices, or they prove nothing.
    """
    prices, ways = plan.tables.get("route_prices"), plan.tables.get("ways")
    if prices is None or ways is None or not len(prices):
        return np.inf
    routed = replace(plan, tables=plan.tables | {"prices": prices})
    trees, crews = open_trees(plan), crews_of(plan)
    by_tree = _prices_of(routed, "tree").reindex(trees["tree_id"], fill_value=0.0).to_numpy()
    owed = trees["mandatory"].to_numpy(np.bool_) & (single_price(routed, "promised") > 0)
    stated = _stated_gains(routed, crews)
    others = prices.loc[~prices["kind"].isin(["tree"]), "price"]
    if (by_tree[~owed] < 0).any() or (others < 0).any():
        return np.inf
    gain = net_worth(routed, trees) - by_tree
    if _some_route_gains_more(routed, crews, trees, gain, stated):
        return np.inf
    cent, budget = single_price(routed, "cent"), plan.settings.budget
    fund_cent = prices_by_position(routed, "fund cent", len(budget.fund_cents))
    money = cent * (budget.year_cents or 0) + fund_cent @ np.array([*budget.fund_cents.values()])
    days = np.array([len(dates) for dates in crews.dates])
    return float(by_tree.sum() + money + days @ stated)


def _prices_of(plan: PlanFiles, kind: str) -> pd.Series:
    prices = plan.tables["prices"]
    return prices[prices["kind"] == kind].set_index("key")["price"].astype(np.float64)


def _stated_gains(plan: PlanFiles, crews: Crews) -> Floats:
    """Return the gain stated for each group: the largest of its crew-days."""
    by_day = _prices_of(plan, "crew-day")
    return np.array(
        [
            by_day.reindex(dates.strftime("%Y-%m-%d") + f" {crew}", fill_value=0.0).max()
            for crew, dates in zip(crews.table["crew"], crews.dates, strict=True)
        ]
    )


def _some_route_gains_more(
    plan: PlanFiles, crews: Crews, trees: pd.DataFrame, gain: Floats, stated: Floats
) -> bool:
    nodes = trees["place"].astype(str).tolist()
    table = plan.tables["ways"].pivot_table(index="from_node", columns="to_node", values="minutes")
    depots = list(dict.fromkeys(crews.table["depot"]))
    names = [*dict.fromkeys(nodes), *depots]
    minutes = table.reindex(index=names, columns=names).fillna(np.inf)
    depot = crews.table["depot"].tolist()
    out, home = minutes.loc[depot, nodes].to_numpy(), minutes.loc[nodes, depot].to_numpy()
    possible = possible_visits(plan, crews, trees, out.T, home) & (gain > LEAST_GAIN)[:, None]
    parking = plan.settings.travel.parking_minutes
    charge = single_price(plan, "cent") * crews.table["day_cost"].to_numpy(np.float64)
    for g in range(len(crews.table)):
        here = np.flatnonzero(possible[:, g])
        names_here = [nodes[row] for row in here]
        place = np.unique(trees["place"].iloc[here], return_inverse=True)[1].astype(np.int64)
        between = minutes.loc[names_here, names_here].to_numpy()
        day = Day(
            place=place,
            between=np.where(place[:, None] != place[None, :], between + parking, 0.0),
            out=out[g, here] + parking,
            home=np.ascontiguousarray(home[here, g]),
            work=trees["minutes"].to_numpy(np.float64)[here],
            gain=gain[here],
            minutes=float(crews.minutes[g]),
        )
        claim = float(charge[g] + stated[g])
        if may_exceed(day, claim + ROUNDING * (1.0 + claim)):
            return True
    return False
