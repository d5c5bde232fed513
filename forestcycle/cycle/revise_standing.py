"""From the plan in force and the books to what a revision starts from."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import PlanInForce
from forestcycle.cycle.revision_locks import Locks
from forestcycle.practice import Assessment
from forestcycle.practice.assessment import TREE_DTYPES
from forestcycle.practice.history import NOT_WORKED
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.problem import BoolArray, IntArray, Problem
from forestcycle.schedule.revise_bound import PricesInForce
from forestcycle.schedule.revise_search import MoneyPrices
from forestcycle.schedule.revise_standing import NONE, Standing

LEAST_RISE = 1e-6


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
        column = trees[name].astype(object)
        values = before[name]
        column.iloc[row] = (pd.to_datetime(values) if "datetime" in dtype else values).to_numpy()
        if dtype == "str":
            column = column.where(column.notna(), "")
        trees[name] = column.astype(trees[name].dtype)
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


def _among(names: "np.typing.NDArray[np.object_]", known: Iterable[str]) -> BoolArray:
    """Whether each name is among some; ``numpy.isin`` compares texts one by one."""
    wanted = set(known)
    return np.array([name in wanted for name in names.tolist()], dtype=np.bool_)


@dataclass(frozen=True)
class Position:
    """Where ids of the plan stand in a problem.

    Attributes
    ----------
    tree : dict of str to int
    crew : dict of str to int
    """

    tree: dict[str, int]
    crew: dict[str, int]


def positions(city: City, problem: Problem) -> Position:
    """Find the trees and crews of a problem by their names.

    Parameters
    ----------
    city : City
    problem : Problem

    Returns
    -------
    Position
    """
    ids = city.inventory.trees["tree_id"].to_numpy()[problem.tree].tolist()
    return Position(
        {tree: place for place, tree in enumerate(ids)},
        {crew.name: place for place, crew in enumerate(city.settings.crews)},
    )


def standing_of(
    city: City,
    problem: Problem,
    plan: PlanInForce,
    as_planned: pd.DataFrame,
    locks: Locks,
    from_day: date,
) -> Standing:
    """Say the plan in force in the trees and crew-days of the problem.

    Parameters
    ----------
    city : City
    problem : Problem
        As the facts are now, without trees that were visited elsewhere.
    plan : PlanInForce
    as_planned : DataFrame
        Stops made on their own crew-day.
    locks : Locks
    from_day : date

    Returns
    -------
    Standing
    """
    first = pd.Timestamp(city.settings.city.year_start)
    at = positions(city, problem)
    stops = plan.stops[plan.stops["tree_id"].isin(at.tree)]
    row = stops["tree_id"].map(at.tree).to_numpy(dtype=np.int64)
    day, crew, order = (np.full(problem.trees, NONE, dtype=np.int64) for _ in range(3))
    day[row] = (stops["date"] - first).dt.days
    crew[row] = stops["crew"].map(at.crew).fillna(NONE).to_numpy(dtype=np.int64)
    order[row] = stops["stop_order"]
    ids = city.inventory.trees["tree_id"].to_numpy()[problem.tree]
    lock_day, lock_crew = (np.full(problem.trees, NONE, dtype=np.int64) for _ in range(2))
    for tree, when in locks.day.items():
        if tree in at.tree:
            lock_day[at.tree[tree]] = (pd.Timestamp(when) - first).days
    for tree, name in locks.crew.items():
        if tree in at.tree:
            lock_crew[at.tree[tree]] = at.crew[name]
    done = _among(ids, as_planned["tree_id"])
    return Standing(
        day=day,
        crew=crew,
        order=order,
        done=done,
        from_day=(from_day - city.settings.city.year_start).days,
        better_trees=_better_trees(problem, plan, ids),
        better_days=_better_days(city, problem, plan, set(ids[day >= 0])),
        lock_day=np.where(done, NONE, lock_day),
        lock_crew=np.where(done, NONE, lock_crew),
        lock_order=_among(ids, locks.order),
    )


def done_that_fits(problem: Problem, standing: Standing) -> BoolArray:
    """Visits done whose crew-day the problem still has and could hold, shape (n,).

    Parameters
    ----------
    problem : Problem
    standing : Standing

    Returns
    -------
    (n,) bool
    """
    home = np.where(standing.done, standing.home(problem), NONE)
    held = np.zeros(problem.trees, dtype=np.bool_)
    for number in np.unique(home[home >= 0]).tolist():
        trees = np.flatnonzero(home == number)
        trees = trees[np.argsort(standing.order[trees], kind="stable")]
        able = not (problem.skill[trees] & ~problem.crew_skill[number]).any()
        held[trees] = able and fits(problem, number, trees)
    return held


def _better_trees(
    problem: Problem, plan: PlanInForce, ids: "np.typing.NDArray[np.object_]"
) -> BoolArray:
    """Trees that are worth more than before, promised anew, or could not be visited before."""
    before = plan.trees.reindex(ids)
    worth = before["priority"].to_numpy(np.float64)
    place = before["place"].to_numpy(np.float64)
    promised = before["mandatory"].fillna(value=False).to_numpy(bool)
    risen = ~(problem.worth <= np.maximum(worth, 0.0) + LEAST_RISE)
    return np.asarray(risen | ~(place >= 0) | (problem.mandatory & ~promised), dtype=np.bool_)


def _better_days(city: City, problem: Problem, plan: PlanInForce, known: set[str]) -> BoolArray:
    """Crew-days that are new, longer, or have lost a stop; all of them where money has grown."""
    if _more_money(city, plan):
        return np.ones(problem.crew_days, dtype=np.bool_)
    ids = np.array(crew_day_ids(city, problem), dtype=object)
    before = plan.crew_days.reindex(ids)
    open_before = before["use"].isin(["planned", "free"]).to_numpy(bool)
    longer = problem.capacity_minutes > before["capacity_minutes"].to_numpy(np.float64) + LEAST_RISE
    gone = plan.stops.loc[~plan.stops["tree_id"].isin(known), "crew_day_id"]
    return np.asarray(~open_before | longer | _among(ids, gone), dtype=np.bool_)


def _more_money(city: City, plan: PlanInForce) -> bool:
    now, before = city.settings.budget, plan.settings.budget
    unlimited = float("inf")
    year = [unlimited if b.year_cents is None else b.year_cents for b in (before, now)]
    return year[1] > year[0] or any(
        now.fund_cents.get(fund, cents + 1) > cents for fund, cents in before.fund_cents.items()
    )


def crew_day_ids(city: City, problem: Problem) -> list[str]:
    """Names of the problem's crew-days, such as ``2027-03-15 North crew``."""
    first = pd.Timestamp(city.settings.city.year_start)
    days = first + pd.to_timedelta(problem.date, unit="D")
    names = [crew.name for crew in city.settings.crews]
    return [
        f"{day:%Y-%m-%d} {names[crew]}"
        for day, crew in zip(days, problem.crew.tolist(), strict=True)
    ]


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
    ids = crew_day_ids(city, problem)
    funds, wards = plan.settings.budget.fund_cents, plan.settings.plan.ward_least_share

    def named(kind: str, before: list[str], now: list[str]) -> "np.typing.NDArray[np.float64]":
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
    """Keep the prices that concern money and wards."""
    return MoneyPrices(prices.cent, prices.fund_cent, prices.ward_minute)


def done_by_crew_day(problem: Problem, standing: Standing) -> dict[int, IntArray]:
    """Trees visited, by crew-day."""
    home = np.where(standing.done, standing.home(problem), NONE)
    return {
        number: np.flatnonzero(home == number) for number in np.unique(home[home >= 0]).tolist()
    }
