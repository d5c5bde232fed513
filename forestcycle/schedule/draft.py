"""The plan while it is being made."""

import numpy as np
from scipy.spatial import cKDTree

from forestcycle.schedule.bound import Bound
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import split_evenly

NEAREST_KNOWN = 8


class Draft:
    """Ordered stops of every crew-day, and where each crew-day works.

    Before its first packing, a crew-day has no stops but may already hold the
    trees of a compact area, from which its first route is made.

    Attributes
    ----------
    routes : list of (s,) int64
        Trees of each crew-day in order, positions in the problem's arrays.
    centres : (c, 2) float64
        Metres; the middle of each crew-day's trees.
    day_of_tree : (n,) int64
        Crew-day that holds each tree, -1 for none.
    """

    def __init__(self, problem: Problem) -> None:
        self._where = np.column_stack([problem.x, problem.y])
        self.routes: list[IntArray] = [
            np.empty(0, dtype=np.int64) for _ in range(problem.crew_days)
        ]
        self.centres: FloatArray = np.tile(self._where.mean(axis=0), (problem.crew_days, 1))
        self.day_of_tree: IntArray = np.full(problem.trees, -1, dtype=np.int64)
        self._held: dict[int, IntArray] = {}

    def hold(self, crew_day: int, trees: IntArray) -> None:
        """Let a crew-day hold trees without an order, in place of those it held.

        Parameters
        ----------
        crew_day : int
        trees : (k,) int64
            Positions in the problem's arrays.
        """
        self._let_go(crew_day)
        self.day_of_tree[trees] = crew_day
        self._held[crew_day] = trees
        if len(trees):
            self.centres[crew_day] = self._where[trees].mean(axis=0)

    def lay(self, routes: dict[int, IntArray]) -> None:
        """Replace the routes of some crew-days.

        Parameters
        ----------
        routes : dict of int to (k,) int64
            Trees in order, by crew-day.
        """
        for crew_day in routes:
            self._let_go(crew_day)
        for crew_day, trees in routes.items():
            self.routes[crew_day] = trees
            self.hold(crew_day, trees)

    def _let_go(self, crew_day: int) -> None:
        """Free what a crew-day holds still; another may have taken some of it."""
        held = self._held.pop(crew_day, np.empty(0, dtype=np.int64))
        self.day_of_tree[held[self.day_of_tree[held] == crew_day]] = -1

    def unpacked(self) -> int:
        """Count the crew-days that hold an area and were never packed.

        Returns
        -------
        int
        """
        holding = np.unique(self.day_of_tree[self.day_of_tree >= 0]).tolist()
        return sum(not len(self.routes[crew_day]) for crew_day in holding)

    def planned(self) -> IntArray:
        """Trees in any route.

        Returns
        -------
        (k,) int64
            Positions in the problem's arrays, by crew-day and order.
        """
        return np.concatenate(self.routes) if self.routes else np.empty(0, dtype=np.int64)


def first_draft(problem: Problem, bound: Bound) -> Draft:
    """Deal the trees that the linear program chose to the crew-days of their group.

    Within a group of crew-days the trees are cut into compact areas of about
    equal minutes, one per crew-day.

    Parameters
    ----------
    problem : Problem
    bound : Bound
        Its allocation says which group visits which tree.

    Returns
    -------
    Draft
        Without routes yet.
    """
    where = np.column_stack([problem.x, problem.y])
    group = np.full(problem.trees, -1, dtype=np.int64)
    by_fraction = np.argsort(bound.allocation.fraction, kind="stable")
    group[bound.allocation.tree[by_fraction]] = bound.allocation.group[by_fraction]
    _follow_neighbours(problem, bound, where, group)
    draft = Draft(problem)
    for number in range(bound.groups.count):
        trees = np.flatnonzero(group == number)
        crew_days = np.flatnonzero(bound.groups.of_crew_day == number)
        area = split_evenly(where[trees], problem.service_minutes[trees], len(crew_days))
        for position, crew_day in enumerate(crew_days):
            draft.hold(int(crew_day), trees[area == position])
    return draft


def _follow_neighbours(problem: Problem, bound: Bound, where: FloatArray, group: IntArray) -> None:
    """Give trees that are worth a visit, but were not in the sample, a neighbour's group.

    Large years are bounded from a sample of places. At the prices of the
    sample many groups are equally good for a tree; the groups of the nearest
    sampled trees spread the others as evenly as the sample is spread.
    """
    known = np.flatnonzero(group >= 0)
    asking = np.flatnonzero((group < 0) & (bound.surplus > 0))
    if not len(known) or not len(asking):
        return
    count = min(NEAREST_KNOWN, len(known))
    _, near = cKDTree(where[known]).query(where[asking], k=count)
    offered = group[known[near.reshape(len(asking), count)]]
    groups = bound.groups
    fits = groups.open_to[problem.window[asking][:, None], offered] & (
        (problem.skill[asking][:, None] & ~groups.skill[offered]) == 0
    )
    first = np.argmax(fits, axis=1)
    rows = np.arange(len(asking))
    group[asking] = np.where(fits[rows, first], offered[rows, first], bound.best_group[asking])
