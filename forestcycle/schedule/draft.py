"""The plan while it is being made."""

import numpy as np

from forestcycle.schedule.bound import Bound
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import split_evenly


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

    def hold(self, crew_day: int, trees: IntArray) -> None:
        """Let a crew-day hold trees without an order."""
        self.day_of_tree[trees] = crew_day
        if len(trees):
            self.centres[crew_day] = self._where[trees].mean(axis=0)

    def lay(self, routes: dict[int, IntArray]) -> None:
        """Replace the routes of some crew-days."""
        for crew_day in routes:
            self.day_of_tree[self.day_of_tree == crew_day] = -1
        for crew_day, trees in routes.items():
            self.routes[crew_day] = trees
            self.hold(crew_day, trees)

    def planned(self) -> IntArray:
        """Trees in any route."""
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
    group = np.where(bound.surplus > 0, bound.best_group, -1)
    by_fraction = np.argsort(bound.allocation.fraction, kind="stable")
    group[bound.allocation.tree[by_fraction]] = bound.allocation.group[by_fraction]
    draft = Draft(problem)
    where = np.column_stack([problem.x, problem.y])
    for number in range(bound.groups.count):
        trees = np.flatnonzero(group == number)
        crew_days = np.flatnonzero(bound.groups.of_crew_day == number)
        area = split_evenly(where[trees], problem.service_minutes[trees], len(crew_days))
        for position, crew_day in enumerate(crew_days):
            draft.hold(int(crew_day), trees[area == position])
    return draft
