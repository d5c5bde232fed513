"""Which routes found so far go best together, in fractions, and at which prices.

The dual values of this linear program swing widely while few routes are known.
They are therefore kept in a box around the best prices so far (boxstep method:
Marsten, Hogan and Blankenship 1975). In the program, a side of the box is a
variable that sells or buys a unit of a row at that side's price; with these it
always has a solution, whatever the routes.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array, eye_array, hstack, vstack

from forestcycle.schedule.glop import solve_exactly
from forestcycle.schedule.linear_program import LinearProgram
from forestcycle.schedule.problem import FloatArray, IntArray
from forestcycle.schedule.route_limits import SharedLimits

MOST_ROUTES, MOST_ROUTES_A_GROUP = 2_500, 100


@dataclass(frozen=True)
class GroupRoute:
    """Trees in order, for a crew-day of a group; relaxed ones may repeat a tree."""

    group: int
    trees: tuple[int, ...]


@dataclass(frozen=True)
class Trial:
    """Prices that the known routes propose, and the bound these would give with no others."""

    rows: FloatArray
    value: float


class RouteMaster:
    """The routes known so far.

    Parameters
    ----------
    worth : (n,) float64
    limits : SharedLimits
    days : (g,) int64
        Crew-days of each group.
    """

    def __init__(self, worth: FloatArray, limits: SharedLimits, days: IntArray) -> None:
        self._worth, self._limits, self._days = worth, limits, days
        self.routes: list[GroupRoute] = []
        self._known: set[GroupRoute] = set()
        self._set(np.zeros(0, dtype=np.int64), csr_array((0, len(worth))))

    def _set(self, group: IntArray, visits: csr_array) -> None:
        self._group, self._visits = group, visits
        self._value = visits @ self._worth
        day = self._limits.per_day.T[group]
        self._takes = csr_array(visits @ self._limits.per_tree.T + csr_array(day))

    def add(self, routes: list[GroupRoute]) -> int:
        """Take in routes; return how many of them are new.

        Parameters
        ----------
        routes : list of GroupRoute

        Returns
        -------
        int
        """
        new = [route for route in dict.fromkeys(routes) if route not in self._known]
        if new:
            self._known.update(new)
            self.routes += new
            group = np.array([route.group for route in new], dtype=np.int64)
            counts = _counts(new, len(self._worth))
            self._set(
                np.concatenate([self._group, group]), csr_array(vstack([self._visits, counts]))
            )
        return len(new)

    def keep(self, rows: IntArray) -> None:
        """Forget all routes but some.

        Parameters
        ----------
        rows : (k,) int64
            Positions in ``routes``.
        """
        self.routes = [self.routes[row] for row in rows]
        self._known = set(self.routes)
        self._set(self._group[rows], csr_array(self._visits[rows]))

    def forget_worst(self, rows: FloatArray) -> None:
        """Keep the routes that gain most at the given prices, where there are too many.

        Parameters
        ----------
        rows : float64
            Price of each row of the program.
        """
        most = MOST_ROUTES + MOST_ROUTES_A_GROUP * len(self._days)
        if len(self.routes) > most:
            gain = self._value - self._takes @ rows
            short = self.best(rows)[self._group] - gain
            short[-most // 4 :] = 0.0  # the latest are there for other prices
            self.keep(np.sort(np.argsort(short, kind="stable")[: most * 3 // 4]))

    def best(self, rows: FloatArray) -> FloatArray:
        """Most that a known route of each group gains at prices, shape (g,); at least 0.

        Parameters
        ----------
        rows : float64
            Price of each row of the program.

        Returns
        -------
        (g,) float64
        """
        best = np.zeros(len(self._days))
        np.maximum.at(best, self._group, self._value - self._takes @ rows)
        return best

    def propose(self, centre: FloatArray, radius: float) -> Trial | None:
        """Find the best prices within a box around others, as far as the routes tell.

        None where the solver fails.

        Parameters
        ----------
        centre : float64
            Price of each row of the program.
        radius : float
            Half the box's width, in units of each row's own scale.

        Returns
        -------
        Trial or None
        """
        limits = self._limits
        low, high = centre - radius * limits.scale, centre + radius * limits.scale
        count, rows, groups = len(self.routes), len(centre), len(self._days)
        of_group = csr_array(
            coo_array((np.ones(count), (self._group, np.arange(count))), shape=(groups, count))
        )
        one = eye_array(rows, format="csr")
        nothing = csr_array((groups, 2 * rows))
        program = LinearProgram(
            worth=np.concatenate([self._value, low, -high]),
            most=np.full(count + 2 * rows, np.inf),
            rows=csr_array(
                vstack([hstack([self._takes.T, one, -one]), hstack([of_group, nothing])])
            ),
            low=np.concatenate(
                [np.where(limits.free, limits.most, -np.inf), np.full(groups, -np.inf)]
            ),
            high=np.concatenate([limits.most, self._days.astype(np.float64)]),
        )
        solution = solve_exactly(program)
        if solution is None:
            return None
        price = solution.price[:rows]
        price = np.where(limits.free, price, np.maximum(price, 0.0))
        return Trial(price, float(limits.most @ price + self._days @ self.best(price)))


def _counts(routes: list[GroupRoute], trees: int) -> csr_array:
    """Visits of each route to each tree."""
    column = np.array([tree for route in routes for tree in route.trees], dtype=np.int64)
    row = np.repeat(np.arange(len(routes)), [len(route.trees) for route in routes])
    return csr_array(coo_array((np.ones(len(row)), (row, column)), shape=(len(routes), trees)))
