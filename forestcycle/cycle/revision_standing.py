"""The plan in force, said in the trees and crew-days of the problem as it is now."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.cycle.city import City
from forestcycle.cycle.crew_day_ids import crew_day_ids
from forestcycle.cycle.in_force import PlanInForce
from forestcycle.cycle.revision_locks import Locks
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.problem import BoolArray, IntArray, Problem
from forestcycle.schedule.revise_standing import NONE, Standing

LEAST_RISE = 1e-6


def _among(names: NDArray[np.object_], known: Iterable[str]) -> BoolArray:
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


def _better_trees(problem: Problem, plan: PlanInForce, ids: NDArray[np.object_]) -> BoolArray:
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
    ids = np.array(crew_day_ids(city, problem.crew, problem.date), dtype=object)
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


def done_by_crew_day(problem: Problem, standing: Standing) -> dict[int, IntArray]:
    """Trees visited, by crew-day.

    Parameters
    ----------
    problem : Problem
    standing : Standing

    Returns
    -------
    dict of int to (k,) int64
        Positions of crew-day and trees in the problem's arrays.
    """
    home = np.where(standing.done, standing.home(problem), NONE)
    return {
        number: np.flatnonzero(home == number) for number in np.unique(home[home >= 0]).tolist()
    }
