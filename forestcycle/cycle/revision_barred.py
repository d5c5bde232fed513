"""Why a visit cannot stay on its crew-day, or must have another."""

from collections.abc import Mapping, Sequence
from datetime import timedelta

import numpy as np

from forestcycle.cycle.city import City
from forestcycle.schedule.problem import BoolArray, IntArray, Problem
from forestcycle.schedule.revise_standing import Standing

NO_ROOM = "its day can no longer hold it within time, money and shares"
NO_DAY = "its crew does not work on its day any more"
NOT_ABLE = "its crew can no longer do the work that it needs"
NOT_OPEN = "it may no longer be visited on its day"


def barred(
    city: City,
    problem: Problem,
    standing: Standing,
    dropped_only: Sequence[IntArray],
    hopeless: Mapping[str, str],
) -> dict[str, str]:
    """Say of visits why they cannot be where the plan in force has them.

    Parameters
    ----------
    city : City
    problem : Problem
        As the facts are now, with real dates.
    standing : Standing
    dropped_only : sequence of (s,) int64
        Routes of the plan that only drops what can no longer be.
    hopeless : mapping of str to str
        By ``tree_id``, why no crew-day could visit a tree.

    Returns
    -------
    dict of str to str
        Reason by ``tree_id``: of these, of visits promised, and of locked ones that were not.
    """
    ids = city.inventory.trees["tree_id"].to_numpy()[problem.tree]
    away = _locked_away(standing)
    told = dict(hopeless)
    told |= {str(ids[tree]): _lock(city, standing, tree) for tree in np.flatnonzero(away).tolist()}
    home = standing.home(problem)
    asked = standing.promised & ~away
    gone = asked & (home < 0)
    unable = np.zeros(problem.trees, dtype=np.bool_)
    shut, dropped = unable.copy(), asked.copy()
    dropped[np.concatenate([np.empty(0, dtype=np.int64), *dropped_only])] = False
    at = np.flatnonzero(asked & (home >= 0))
    unable[at] = (problem.skill[at] & ~problem.crew_skill[home[at]]) != 0
    shut[at] = ~problem.open_on[problem.window[at], problem.date[home[at]]]
    for trees, why in (
        (dropped, NO_ROOM),
        (shut, NOT_OPEN),
        (unable, NOT_ABLE),
        (gone, NO_DAY),
    ):  # the last that holds is the one told
        told |= dict.fromkeys(ids[trees].tolist(), why)
    return told


def _locked_away(standing: Standing) -> BoolArray:
    """Visits that are locked to another day or crew than they had."""
    other_day = (standing.lock_day >= 0) & (standing.lock_day != standing.day)
    other_crew = (standing.lock_crew >= 0) & (standing.lock_crew != standing.crew)
    return np.asarray(other_day | other_crew, dtype=np.bool_)


def _lock(city: City, standing: Standing, tree: int) -> str:
    to = []
    if standing.lock_day[tree] >= 0:
        day = city.settings.city.year_start + timedelta(days=int(standing.lock_day[tree]))
        to.append(str(day))
    if standing.lock_crew[tree] >= 0:
        to.append(city.settings.crews[int(standing.lock_crew[tree])].name)
    return f"locked to {' and '.join(to)}"
