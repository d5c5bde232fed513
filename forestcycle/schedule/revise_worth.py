"""What a revised plan is worth once the visits that it moves are paid for."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.revise_standing import Standing


@dataclass(frozen=True)
class MovePrices:
    """Worth that a change must gain for each visit that it moves.

    Attributes
    ----------
    other_day : float
        For a visit that is on another day than promised, or on none.
    other_crew : float
        For a visit that another crew makes, as long as its own still works.
    """

    other_day: float
    other_crew: float


class Judge:
    """Worth less the price of moves, for any routes of one problem.

    Parameters
    ----------
    problem : Problem
        With real dates.
    standing : Standing
    prices : MovePrices
    """

    def __init__(self, problem: Problem, standing: Standing, prices: MovePrices) -> None:
        self._problem = problem
        self._promised = standing.promised
        self._standing = standing
        self._prices = prices
        self._owed = problem.mandatory | standing.locked | standing.done
        still_works = np.isin(standing.crew, problem.crew[~standing.past(problem)])
        self._own_crew_works = self._promised & still_works

    def bonus(self, crew_days: IntArray, trees: IntArray) -> FloatArray:
        """Worth of keeping a promise beside that of the visit, against leaving the tree out.

        Leaving a tree out breaks its day, so keeping the day is worth that
        price; another crew takes off its own, while the promised crew works.

        Parameters
        ----------
        crew_days, trees : int64
            Of shapes that broadcast.

        Returns
        -------
        float64
            Of the broadcast shape.
        """
        same_day = self._promised[trees] & (
            self._problem.date[crew_days] == self._standing.day[trees]
        )
        other_crew = self._own_crew_works[trees] & (
            self._problem.crew[crew_days] != self._standing.crew[trees]
        )
        prices = self._prices
        return np.asarray(prices.other_day * same_day - prices.other_crew * other_crew)

    def own_crew_only(self) -> BoolArray:
        """Promised visits that are worth less than the price of another crew, shape (n,).

        Returns
        -------
        (n,) bool
        """
        problem, standing = self._problem, self._standing
        ahead = ~standing.past(problem)
        days = np.bincount(problem.date[ahead], minlength=problem.open_on.shape[1])
        own = (standing.home(problem) >= 0) & (standing.day >= standing.from_day)
        others_work = days[standing.day] - own > 0
        most = problem.worth + self._prices.other_day * others_work
        return np.asarray(self._own_crew_works & (most <= self._prices.other_crew))

    def value(self, routes: Sequence[IntArray]) -> float:
        """Worth of all visits less what the broken promises cost.

        Parameters
        ----------
        routes : sequence of (k,) int64
            Trees in order, one per crew-day.

        Returns
        -------
        float
        """
        crew_day, tree = as_stops(routes)
        kept = float(self._problem.worth[tree].sum() + self.bonus(crew_day, tree).sum())
        return kept - self._prices.other_day * int(self._promised.sum())

    def paid(self, routes: Sequence[IntArray]) -> float:
        """Price of all broken promises.

        Parameters
        ----------
        routes : sequence of (k,) int64
            Trees in order, one per crew-day.

        Returns
        -------
        float
        """
        return float(self._problem.worth[as_stops(routes)[1]].sum()) - self.value(routes)

    def standing_of(self, routes: Sequence[IntArray]) -> tuple[int, float]:
        """Rank of routes: mandatory, locked and done visits in them, then value.

        Parameters
        ----------
        routes : sequence of (k,) int64
            Trees in order, one per crew-day.

        Returns
        -------
        (int, float)
            To be compared as a tuple.
        """
        return int(self._owed[as_stops(routes)[1]].sum()), self.value(routes)


def as_stops(routes: Sequence[IntArray]) -> tuple[IntArray, IntArray]:
    """List crew-day and tree of every stop.

    Parameters
    ----------
    routes : sequence of (k,) int64
        Trees in order, one per crew-day.

    Returns
    -------
    crew_day, tree : (s,) int64
    """
    lengths = [len(route) for route in routes]
    trees = np.concatenate([np.empty(0, dtype=np.int64), *routes])
    return np.repeat(np.arange(len(routes)), lengths), trees
