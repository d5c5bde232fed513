"""The plan in force, said in the trees and crew-days of a problem as it is now."""

from dataclasses import dataclass, replace

import numpy as np

from forestcycle.schedule.problem import BoolArray, IntArray, Problem

NONE = -1


@dataclass(frozen=True)
class Standing:
    """What has been promised, what is done, and what may not be moved.

    Shapes use the problem's n trees and c crew-days. Days are those of
    ``Problem.date``, crews those of ``Problem.crew``.

    Attributes
    ----------
    day, crew : (n,) int64
        Promised to each tree; ``day`` is -1 for trees that were not in the
        plan, ``crew`` -1 for these and where the crew is gone.
    order : (n,) int64
        Place within the crew-day.
    done : (n,) bool
        Visited on that crew-day, which the problem still has: it stays.
    from_day : int
        Earlier days are past.
    better_trees : (n,) bool
        Trees that are worth more, or may be visited on more days, than the
        plan in force knew.
    better_days : (c,) bool
        Crew-days that are new or have more time than the plan in force knew.
    lock_day, lock_crew : (n,) int64
        Day or crew that a visit must keep, -1 where it is free.
    lock_order : (n,) bool
        While the visit stays on its crew-day nothing new comes before it, and
        what stood before and after it does so still.
    """

    day: IntArray
    crew: IntArray
    order: IntArray
    done: BoolArray
    from_day: int
    better_trees: BoolArray
    better_days: BoolArray
    lock_day: IntArray
    lock_crew: IntArray
    lock_order: BoolArray

    @property
    def promised(self) -> BoolArray:
        """Trees with a visit in the plan in force that is still to be made, shape (n,)."""
        return (self.day >= 0) & ~self.done

    @property
    def locked(self) -> BoolArray:
        """Trees whose visit must keep its day or its crew, shape (n,)."""
        return (self.lock_day >= 0) | (self.lock_crew >= 0)

    def home(self, problem: Problem) -> IntArray:
        """Crew-day promised to each tree, -1 where there is none now, shape (n,).

        Parameters
        ----------
        problem : Problem

        Returns
        -------
        (n,) int64
        """
        number = {
            key: place
            for place, key in enumerate(
                zip(problem.crew.tolist(), problem.date.tolist(), strict=True)
            )
        }
        asked = zip(self.crew.tolist(), self.day.tolist(), strict=True)
        return np.array([number.get(key, NONE) for key in asked], dtype=np.int64)

    def past(self, problem: Problem) -> BoolArray:
        """Crew-days before the revision, shape (c,).

        Parameters
        ----------
        problem : Problem

        Returns
        -------
        (c,) bool
        """
        return problem.date < self.from_day


def narrowed(problem: Problem, standing: Standing) -> Problem:
    """Close the past, hold what is done, and keep the locks.

    Windows get a column per crew-day instead of per date, so that they can
    tell crews apart. What is done or locked counts as mandatory.

    Parameters
    ----------
    problem : Problem
    standing : Standing

    Returns
    -------
    Problem
        ``date`` is the crew-day's own number.
    """
    ours = np.where(standing.done, NONE, problem.window)
    day = np.where(standing.done, standing.day, standing.lock_day)
    crew = np.where(standing.done, standing.crew, standing.lock_crew)
    keys, window = np.unique(np.column_stack([ours, day, crew]), axis=0, return_inverse=True)
    open_on = problem.open_on[:, problem.date] & ~standing.past(problem)
    rows = open_on[keys[:, 0]] | (keys[:, [0]] < 0)
    rows &= (keys[:, [1]] < 0) | (problem.date == keys[:, [1]])
    rows &= (keys[:, [2]] < 0) | (problem.crew == keys[:, [2]])
    return replace(
        problem,
        window=window.reshape(-1).astype(np.int64),
        open_on=rows,
        date=np.arange(problem.crew_days),
        mandatory=(problem.mandatory | standing.locked | standing.done),
    )
