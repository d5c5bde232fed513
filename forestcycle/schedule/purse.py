"""Keep a plan in the making near its budget.

The bound's price of a cent is that of a world without driving between stops,
so a plan made at that price spends too much or too little. After every round
the price moves with what visits cost and what the crew-days leave for them;
after the first rounds, crew-days that the budget does not reach are closed and
the others make the best of it.
"""

from collections.abc import Sequence

import numpy as np

from forestcycle.schedule.draft import Draft
from forestcycle.schedule.limits import cost_of, trim
from forestcycle.schedule.problem import BoolArray, IntArray, Problem

LEAST_STEP, LARGEST_STEP = 0.8, 1.25


class Purse:
    """Price of money, the crew-days it reaches, and the best plan so far.

    Attributes
    ----------
    thrift : float
        What the bound's price of a cent is multiplied by.
    open_days : (c,) bool
        Crew-days that may be used.
    best : list of (s,) int64
        Trees of each crew-day in order: the worthiest plan within all limits.
    worth : float
        Of ``best``.
    """

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._standing = (-1, -np.inf)
        self.thrift = 1.0
        self.open_days: BoolArray = np.ones(problem.crew_days, dtype=np.bool_)
        self.best: list[IntArray] = [np.empty(0, dtype=np.int64)] * problem.crew_days

    @property
    def worth(self) -> float:
        """Worth of the best plan."""
        return max(0.0, self._standing[1])

    def look(self, draft: Draft) -> None:
        """Take note of what a round came to and what it cost.

        Parameters
        ----------
        draft : Draft
            As the round left it.
        """
        problem = self._problem
        within = trim(problem, draft.routes)
        trees = np.concatenate(within)
        standing = int(problem.mandatory[trees].sum()), float(problem.worth[trees].sum())
        if standing > self._standing:
            self._standing, self.best = standing, within
        if problem.budget_cents:
            direct = float(problem.cost_cents[draft.planned()].sum())
            left = problem.budget_cents - (_cost(problem, draft.routes) - direct)
            step = direct / left if left > 0 else LARGEST_STEP
            self.thrift *= float(np.clip(step, LEAST_STEP, LARGEST_STEP))

    def settle(self, draft: Draft) -> None:
        """Go on from the best plan, with no more crew-days than there is money for.

        Parameters
        ----------
        draft : Draft
            Changed in place.
        """
        budget = self._problem.budget_cents
        if not budget:
            return
        draft.lay(dict(enumerate(self.best)))
        used = np.array([len(route) > 0 for route in self.best], dtype=np.bool_)
        left = budget - _cost(self._problem, self.best)
        self.open_days = used | (self._problem.day_cost_cents <= left)


def _cost(problem: Problem, routes: Sequence[IntArray]) -> int:
    used = np.flatnonzero([len(route) > 0 for route in routes])
    return cost_of(problem, used, np.concatenate(routes))
