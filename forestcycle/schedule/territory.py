"""Territories: neighbouring crew-days with the trees they may choose from."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from forestcycle.schedule.cluster import make_ground
from forestcycle.schedule.hours import earliest_begin, latest_begin
from forestcycle.schedule.kernel import Ground
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem

STEPS_PER_MINUTE = 100
CANDIDATES_PER_DAY = 50
NEAREST_STOPS = 8
EXTRA_STOP_MINUTES = 2.0


@dataclass(frozen=True)
class Territory:
    """Crew-days to be packed together, and their candidates.

    Attributes
    ----------
    crew_days : (k,) int64
    trees : (m,) int64
        Positions in the problem's arrays.
    """

    crew_days: IntArray
    trees: IntArray


def split_evenly(points: FloatArray, weights: FloatArray, parts: int) -> IntArray:
    """Cut points into compact parts of about equal weight.

    The set is halved, across the direction in which it is longest, until one
    part is left in each piece.

    Parameters
    ----------
    points : (n, d) float64
    weights : (n,) float64
    parts : int

    Returns
    -------
    (n,) int64
        Part of each point, 0..parts-1; a part may stay empty.
    """
    part = np.zeros(len(points), dtype=np.int64)
    pieces = [(np.arange(len(points)), 0, parts)]
    while pieces:
        members, first, count = pieces.pop()
        part[members] = first
        if count == 1 or len(members) == 0:
            continue
        axis = int(np.argmax(np.ptp(points[members], axis=0)))
        members = members[np.argsort(points[members, axis], kind="stable")]
        left = count // 2
        reached = np.cumsum(weights[members])
        middle = reached - weights[members] / 2
        cut = int(np.searchsorted(middle, reached[-1] * left / count))
        pieces.append((members[:cut], first, left))
        pieces.append((members[cut:], first + left, count - left))
    return part


def group_crew_days(centres: FloatArray, size: int, random: np.random.Generator) -> list[IntArray]:
    """Group crew-days that work near each other, differently at every call.

    Parameters
    ----------
    centres : (c, 2) float64
        Where each crew-day works.
    size : int
        Crew-days per group, about.
    random : Generator

    Returns
    -------
    list of (k,) int64
        Every crew-day is in one group.
    """
    angle = random.uniform(0, np.pi)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    points = centres @ turn + random.uniform(-1, 1, centres.shape)
    weights = random.uniform(0.5, 1.5, len(centres))
    part = split_evenly(points, weights, max(1, round(len(centres) / size)))
    order = np.argsort(part, kind="stable")
    return [
        group for group in np.split(order, np.flatnonzero(np.diff(part[order])) + 1) if len(group)
    ]


def may_visit(problem: Problem, crew_days: IntArray, trees: IntArray) -> BoolArray:
    """Whether date and skill allow each crew-day each tree, shape (k, m).

    Parameters
    ----------
    problem : Problem
    crew_days : (k,) int64
    trees : (m,) int64
        Positions in the problem's arrays.

    Returns
    -------
    (k, m) bool
    """
    open_then = problem.open_on[problem.window[trees]][:, problem.date[crew_days]].T
    lacking = problem.skill[trees] & ~problem.crew_skill[crew_days][:, None]
    return np.asarray(open_then & (lacking == 0), dtype=np.bool_)


def territories(
    problem: Problem,
    groups: list[IntArray],
    day_of_tree: IntArray,
    centres: FloatArray,
    worth: FloatArray,
) -> list[Territory]:
    """Give every group of crew-days its candidates.

    These are the trees it has, and of the trees that no crew-day has, those
    near it that its dates and skills allow, best worth per minute first.
    Crew-days without trees look around their centres.

    Parameters
    ----------
    problem : Problem
    groups : list of (k,) int64
        Crew-days; together all of them.
    day_of_tree : (n,) int64
        Crew-day that has the tree, -1 for none.
    centres : (c, 2) float64
        Where each crew-day works.
    worth : (n,) float64
        Worth less the price of money; trees of worth 0 or less are no candidates.

    Returns
    -------
    list of Territory
    """
    group_of_day = np.full(problem.crew_days, -1, dtype=np.int64)
    for number, crew_days in enumerate(groups):
        group_of_day[crew_days] = number
    held = np.flatnonzero(day_of_tree >= 0)
    free = np.flatnonzero((day_of_tree < 0) & (worth > 0))
    group = np.full(problem.trees, -1, dtype=np.int64)
    group[held] = group_of_day[day_of_tree[held]]
    idle = np.flatnonzero(group_of_day >= 0)
    idle = idle[~np.isin(idle, day_of_tree[held])]
    points = np.vstack([np.column_stack([problem.x, problem.y])[held], centres[idle]])
    day_of_point = np.concatenate([day_of_tree[held], idle])
    group[free] = _nearest_group(problem, free, points, day_of_point, group_of_day)
    density = worth / (problem.service_minutes + EXTRA_STOP_MINUTES)
    density = np.where(problem.mandatory, np.inf, density)
    return [
        Territory(crew_days, _best_candidates(trees, day_of_tree, density, len(crew_days)))
        for crew_days, trees in zip(groups, _members(group, len(groups)), strict=True)
    ]


def _members(group: IntArray, count: int) -> list[IntArray]:
    """Trees of each group, in rising order."""
    order = np.argsort(group, kind="stable")
    bounds = np.searchsorted(group[order], np.arange(count + 1))
    return [order[bounds[g] : bounds[g + 1]] for g in range(count)]


def _nearest_group(
    problem: Problem,
    free: IntArray,
    points: FloatArray,
    day_of_point: IntArray,
    group_of_day: IntArray,
) -> IntArray:
    """Group of the nearest point whose crew-day may visit the free tree, -1 for none."""
    found = np.full(len(free), -1, dtype=np.int64)
    if not len(points) or not len(free):
        return found
    count = min(NEAREST_STOPS, len(points))
    where = np.column_stack([problem.x[free], problem.y[free]])
    _, near = cKDTree(points).query(where, k=count)
    near = near.reshape(len(free), count)
    for rank in range(count):
        day = day_of_point[near[:, rank]]
        allowed = problem.open_on[problem.window[free], problem.date[day]] & (
            (problem.skill[free] & ~problem.crew_skill[day]) == 0
        )
        found = np.where((found < 0) & allowed, group_of_day[day], found)
    return found


def _best_candidates(
    trees: IntArray, day_of_tree: IntArray, density: FloatArray, days: int
) -> IntArray:
    is_free = day_of_tree[trees] < 0
    free = trees[is_free]
    best = np.argsort(-density[free], kind="stable")[: CANDIDATES_PER_DAY * days]
    return np.concatenate([trees[~is_free], free[best]])


def ground_of(
    problem: Problem,
    territory: Territory,
    worth: FloatArray,
    day_price: FloatArray,
) -> Ground:
    """Work out legs, hours and worths of a territory.

    Legs are rounded up to whole hundredths of a minute, which keeps the
    triangle inequality and makes a plan that is feasible here feasible in
    exact arithmetic too.

    Parameters
    ----------
    problem : Problem
    territory : Territory
    worth : (m,) float64
        Worth of the territory's trees, less the price of money.
    day_price : (k,) float64
        Worth that using each of its crew-days costs.

    Returns
    -------
    Ground
    """
    trees, crew_days = territory.trees, territory.crew_days
    places, at = np.unique(problem.place[trees], return_inverse=True)
    depots, home = np.unique(problem.depot[crew_days], return_inverse=True)
    travel, parking = problem.travel, problem.parking_minutes
    between = _rounded_up(travel.minutes(places, places)) + parking
    np.fill_diagonal(between, 0.0)
    out = _rounded_up(travel.minutes(depots, places)) + parking
    back = _rounded_up(travel.minutes(places, depots)).T
    earliest, latest = service_spans(problem, crew_days, trees)
    return make_ground(
        between[np.ix_(at, at)],
        out[np.ix_(home, at)],
        back[np.ix_(home, at)],
        problem.service_minutes[trees],
        worth,
        problem.capacity_minutes[crew_days],
        earliest=earliest,
        latest=latest,
        day_price=day_price,
    )


def _rounded_up(minutes: FloatArray) -> FloatArray:
    return np.asarray(np.ceil(minutes * STEPS_PER_MINUTE - 1e-7) / STEPS_PER_MINUTE)


def service_spans(
    problem: Problem, crew_days: IntArray, trees: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Earliest and latest begin of each service on each crew-day, shape (k, m).

    In working minutes since leaving the depot; the latest is below 0 where the
    crew-day may not visit the tree.

    Parameters
    ----------
    problem : Problem
    crew_days : (k,) int64
    trees : (m,) int64
        Positions in the problem's arrays.

    Returns
    -------
    earliest, latest : (k, m) float64
    """
    leaves = problem.start_minute[crew_days][:, None]
    due = problem.break_after[crew_days][:, None]
    rest = problem.break_minutes[crew_days][:, None]
    earliest = earliest_begin(problem.hours_from[trees], leaves, due, rest)
    latest = latest_begin(
        problem.hours_until[trees], problem.service_minutes[trees], leaves, due, rest
    )
    latest[~may_visit(problem, crew_days, trees)] = -1.0
    return np.maximum(earliest, 0.0), latest
