"""The bound, computed once more from the prices that the plan states.

For any prices that are not negative, no plan is worth more than

* for each crew-day, its minutes at their price, less the price of what the day
  costs, and not less than nothing;
* the budget and each fund at the price of a cent;
* for each tree, the most that its worth can exceed the price of the money, of
  the minutes and of its part of the parking that it takes.

A minute at a tree counts ``T / (T - r)`` fold, with ``T`` the minutes of the
crew-day and ``r`` those from the depot to the tree's place and back, since
every day pays its longest way there and back. Trees that a crew-day cannot reach
and be done with within their hours, the break left aside, are not for it.
A place's parking is paid once:
its trees, one after another, each leave to the next what they cannot pay.

Of a revised plan, only the crew-days and trees still open are bounded so. Stops
of the past count with their worth as it is, and what they cost is off the budget.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.schedule.verification.files import NOT_PLANNABLE, PlanFiles, closed_windows
from forestcycle.schedule.verification.rules import needed_equipment, work_hours
from forestcycle.settings import Crew

CAPACITY_TOLERANCE = 1e-6
TREES_AT_ONCE = 50_000
EQUIPMENT, OPENS, SHUTS = "equipment needed", "work opens", "work shuts"

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]


@dataclass(frozen=True)
class Crews:
    """Crew-days of one crew, one price and one group: one row for these.

    How crew-days are grouped changes the bound by a hair, and every grouping
    is valid; so the plan's own is used.
    """

    table: pd.DataFrame
    dates: list[pd.DatetimeIndex]
    minutes: Floats


def bound_of_prices(plan: PlanFiles) -> float:
    """Compute the bound from the tables of a plan.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    float
    """
    crews = crews_of(plan)
    cent, budget = single_price(plan, "cent"), plan.settings.budget
    fund_cent = prices_by_position(plan, "fund cent", len(budget.fund_cents))
    days = np.array([len(dates) for dates in crews.dates])
    day_cost = crews.table["day_cost"].to_numpy(np.float64)
    home = crews.table["home"].to_numpy(np.float64)
    minute = crews.table["minute"].to_numpy(np.float64)
    stop_minute = crews.table["stop_minute"].to_numpy(np.float64)
    a_day = minute * crews.minutes + stop_minute * (crews.minutes - home) - cent * day_cost
    aside = plan.done_aside
    spent = aside.groupby("fund")["cost_cents"].sum().reindex(list(budget.fund_cents), fill_value=0)
    funds = np.array([*budget.fund_cents.values()]) - spent.to_numpy(np.float64)
    year = (budget.year_cents or 0) - aside["cost_cents"].sum() - aside["day_cost_cents"].sum()
    money = cent * float(year) + fund_cent @ funds
    return float(np.maximum(a_day, 0) @ days + money + _surplus(plan, crews).sum()) + _past(plan)


def _past(plan: PlanFiles) -> float:
    """Worth of the stops that are made, less the price of their money and of days that are past."""
    stops = plan.stops[plan.made]
    trees = plan.trees[plan.trees["tree_id"].isin(stops["tree_id"])]
    names = {crew.name: crew.day_cost_cents for crew in plan.settings.crews}
    past = stops[stops["date"] < plan.revised_from]
    days = past.drop_duplicates("crew_day_id")["crew"].map(names).sum()
    return float(net_worth(plan, trees).sum()) - single_price(plan, "cent") * float(days)


def _rows(plan: PlanFiles, kind: str) -> pd.Series:
    prices = plan.tables["prices"]
    return prices[prices["kind"] == kind].set_index("key")["price"].astype(np.float64)


def single_price(plan: PlanFiles, kind: str) -> float:
    """Price of a kind that has one row.

    Parameters
    ----------
    plan : PlanFiles
    kind : str

    Returns
    -------
    float
        0 where there is no such row.
    """
    return float(_rows(plan, kind).sum())


def prices_by_position(plan: PlanFiles, kind: str, count: int) -> Floats:
    """Prices of a kind by position in the settings, shape (count,).

    Parameters
    ----------
    plan : PlanFiles
    kind : str
    count : int

    Returns
    -------
    (count,) float64
        0 where there is no such row.
    """
    keys = [str(position) for position in range(count)]
    return _rows(plan, kind).reindex(keys, fill_value=0.0).to_numpy(np.float64)


def crews_of(plan: PlanFiles) -> Crews:
    """Crew-days that can still be planned, like ones in one row.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    Crews
    """
    days = plan.crew_days[~plan.crew_days.index.duplicated()]
    days = days[~days["use"].isin(NOT_PLANNABLE) & (days["date"] >= plan.revised_from)]
    priced = pd.DataFrame(
        {
            "crew": days["crew"],
            "minute": _rows(plan, "minute").reindex(days.index, fill_value=0.0),
            "stop_minute": _rows(plan, "stop minute").reindex(days.index, fill_value=0.0),
            "home": _rows(plan, "home minutes").reindex(days.index, fill_value=0.0),
            "group": _rows(plan, "group").reindex(days.index, fill_value=0.0),
            "date": days["date"],
            "depot": days["depot"],
        }
    )
    keys = ["crew", "minute", "stop_minute", "home", "group", "depot"]
    groups = list(priced.groupby(keys, sort=True)["date"])
    table = pd.DataFrame([name for name, _ in groups], columns=keys)
    known = {crew.name: crew for crew in plan.settings.crews}
    table["day_cost"] = [known[name].day_cost_cents for name in table["crew"]]
    table["leaves"] = [_minute_of_leaving(known[name]) for name in table["crew"]]
    table["rests"] = [float(known[name].break_minutes) for name in table["crew"]]
    minutes = np.array([float(known[name].working_minutes) for name in table["crew"]])
    return Crews(
        table, [pd.DatetimeIndex(dates) for _, dates in groups], minutes + CAPACITY_TOLERANCE
    )


def _minute_of_leaving(crew: Crew) -> float:
    start = crew.shift_start
    return start.hour * 60.0 + start.minute + crew.setup_minutes


def open_trees(plan: PlanFiles) -> pd.DataFrame:
    """Trees that the plan could still visit, sorted by place.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    DataFrame
        Rows of the trees layer with equipment and hours added.
    """
    made = plan.stops.loc[plan.made, "tree_id"]
    still_open = (plan.trees["place"] >= 0) & ~plan.trees["tree_id"].isin(made)
    opens, shuts = work_hours(plan)
    trees = plan.trees.assign(
        **{EQUIPMENT: needed_equipment(plan), OPENS: opens, SHUTS: shuts},
    )
    return trees[still_open].sort_values("place", kind="stable")


def _surplus(plan: PlanFiles, crews: Crews) -> Floats:
    """Most that each tree can add to a plan beyond the price of what it takes."""
    trees = open_trees(plan)
    place = trees["place"].to_numpy()
    starts = np.flatnonzero(np.r_[True, place[1:] != place[:-1]]) if len(place) else place
    cuts = starts[np.searchsorted(starts, np.arange(TREES_AT_ONCE, len(place), TREES_AT_ONCE)) - 1]
    edges = np.unique(np.r_[0, cuts, len(place)])
    ways = plan.tables["round_trips"].set_index(["place", "depot"])
    parts = [_surplus_of(plan, crews, trees.iloc[low:high], ways) for low, high in pairwise(edges)]
    return np.concatenate(parts) if parts else np.zeros(0)


def _surplus_of(plan: PlanFiles, crews: Crews, trees: pd.DataFrame, ways: pd.DataFrame) -> Floats:
    places, at = np.unique(trees["place"], return_inverse=True)
    depots = crews.table["depot"].tolist()
    trip, out = (_minutes(ways, column, places, depots) for column in ("minutes", "out_minutes"))
    stop_travel = ways["stop_minutes"].groupby(level="place").min().reindex(places).fillna(0.0)
    parking = plan.settings.travel.parking_minutes
    service = trees["minutes"].to_numpy(np.float64)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        fold = np.where(trip < crews.minutes, crews.minutes / (crews.minutes - trip), 1.0)
    rate = fold * crews.table["minute"].to_numpy() + crews.table["stop_minute"].to_numpy()
    pays = rate * parking + np.outer(stop_travel, crews.table["stop_minute"])
    home = trip - np.where(np.isfinite(out), out, 0.0)
    possible = possible_visits(plan, crews, trees, out[at], home[at])
    gain = np.where(possible, net_worth(plan, trees)[:, None] - rate[at] * service, -np.inf)
    must = trees["mandatory"].to_numpy(np.bool_) & (single_price(plan, "promised") > 0)
    return _share_places(gain, pays, at, must)


def possible_visits(
    plan: PlanFiles, crews: Crews, trees: pd.DataFrame, out: Floats, home: Floats
) -> Truths:
    """Whether each group could visit each tree if it did nothing else, shape (n, groups).

    ``out`` and ``home`` are the street minutes from and to the groups' depots.

    Parameters
    ----------
    plan : PlanFiles
    crews : Crews
    trees : DataFrame
        From :func:`open_trees`, n rows.
    out, home : (n, groups) float64
        Street minutes from and to the groups' depots.

    Returns
    -------
    (n, groups) bool
    """
    service = trees["minutes"].to_numpy(np.float64)[:, None]
    there = out + plan.settings.travel.parking_minutes
    in_time = there + service + home <= crews.minutes
    leaves = crews.table["leaves"].to_numpy(np.float64)
    ends = leaves + crews.minutes + crews.table["rests"].to_numpy(np.float64)
    opens, shuts = (trees[name].to_numpy(np.float64)[:, None] for name in (OPENS, SHUTS))
    in_time &= leaves + there + service <= shuts + CAPACITY_TOLERANCE
    in_time &= opens + service + home <= ends + CAPACITY_TOLERANCE
    possible: Truths = in_time & _open(trees, crews) & _able(plan, trees, crews)
    return possible


def _minutes(ways: pd.DataFrame, column: str, places: Floats, depots: list[str]) -> Floats:
    """Minutes between each place and the depot of each group, shape (places, groups)."""
    of_depot = {
        depot: ways[column].xs(depot, level="depot").reindex(places).fillna(np.inf)
        for depot in set(depots)
    }
    return np.column_stack([of_depot[depot].to_numpy(np.float64) for depot in depots])


def net_worth(plan: PlanFiles, trees: pd.DataFrame) -> Floats:
    """Worth less the price of the visit's money, and with what its ward is owed.

    Parameters
    ----------
    plan : PlanFiles
    trees : DataFrame
        From :func:`open_trees`, n rows.

    Returns
    -------
    (n,) float64
    """
    funds, shares = plan.settings.budget.fund_cents, plan.settings.plan.ward_least_share
    fund_cent = dict(zip(funds, prices_by_position(plan, "fund cent", len(funds)), strict=True))
    ward_minute = dict(
        zip(shares, prices_by_position(plan, "ward minute", len(shares)), strict=True)
    )
    a_cent = single_price(plan, "cent") + trees["fund"].map(fund_cent).fillna(0.0)
    owed = sum(price * shares[ward] for ward, price in ward_minute.items())
    a_minute = trees["ward"].map(ward_minute).fillna(0.0) - owed
    worth = trees["priority"].clip(lower=1e-9)
    net = worth - trees["cost_cents"] * a_cent + trees["minutes"] * a_minute
    return np.asarray(net, dtype=np.float64)


def _open(trees: pd.DataFrame, crews: Crews) -> Truths:
    """Whether a tree may be visited on any date of a group, shape (n, groups)."""
    keys = ["not_before", "deadline", "closed_windows"]
    kind = trees.groupby(keys, dropna=False, sort=False).ngroup().to_numpy()
    first = np.unique(kind, return_index=True)[1]
    kinds = trees[keys].iloc[first]
    days = np.concatenate([dates.to_numpy() for dates in crews.dates])
    groups = np.cumsum([0, *map(len, crews.dates)])[:-1]
    rows = [
        np.logical_or.reduceat(_open_dates(not_before, deadline, str(text), days), groups)
        for not_before, deadline, text in zip(*(kinds[key] for key in keys), strict=True)
    ]
    is_open: Truths = np.array(rows, dtype=np.bool_)[kind]
    return is_open


def _open_dates(
    not_before: pd.Timestamp,
    deadline: pd.Timestamp,
    text: str,
    days: NDArray[np.datetime64],
) -> Truths:
    """Whether each day is open to a tree, shape (days,)."""
    allowed = np.ones(len(days), dtype=np.bool_)
    if not pd.isna(not_before):
        allowed &= days >= not_before.to_datetime64()
    if not pd.isna(deadline):
        allowed &= days <= deadline.to_datetime64()
    for first, last in closed_windows(text):
        allowed &= (days < first.to_datetime64()) | (days > last.to_datetime64())
    return allowed


def _able(plan: PlanFiles, trees: pd.DataFrame, crews: Crews) -> Truths:
    """Whether the crews of each group have the skill and the equipment, shape (n, groups)."""
    known = {crew.name: {*crew.skills, "ground"} for crew in plan.settings.crews}
    brought = {crew.name: set(crew.equipment) for crew in plan.settings.crews}
    needs = zip(trees["skill"].astype(object), trees[EQUIPMENT], strict=True)
    needed, distinct = pd.factorize(np.fromiter(needs, dtype=object, count=len(trees)))
    able = [
        [skill in known[name] and tools <= brought[name] for name in crews.table["crew"]]
        for skill, tools in distinct
    ]
    return np.array(able, dtype=np.bool_).reshape(len(distinct), len(crews.table))[needed]


def _share_places(gain: Floats, pays: Floats, at: NDArray[np.int64], must: Truths) -> Floats:
    """Let the trees of each place pay for it one after another."""
    surplus, left = np.zeros(len(gain)), pays.copy()
    rank = np.arange(len(at)) - np.searchsorted(at, at)
    for turn in range(int(rank.max(initial=-1)) + 1):
        rows = np.flatnonzero(rank == turn)
        mine, rest = gain[rows], left[at[rows]]
        most = (mine - rest).max(axis=1)
        u = np.where(must[rows], most, np.maximum(most, 0.0))
        u = np.where(np.isfinite(most), u, 0.0)
        surplus[rows] = u
        left[at[rows]] = np.maximum(0.0, rest - np.maximum(0.0, mine - u[:, None]))
    return surplus
