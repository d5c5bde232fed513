"""The linear program that shares crews and money out among known courses of action.

Each block of trees (a kind in a ward) mixes the courses found so far; the
mixture must fit the crews and the money, and meet the goals. Its dual values
are the prices to which :mod:`forestcycle.outlook.respond` answers with better
courses.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import block_array, csr_array

from forestcycle.outlook.respond import Prices, Use
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray
from forestcycle.outlook.supply import SKILL_COUNT, Supply
from forestcycle.outlook.trajectory import MEASURE
from forestcycle.schedule.glop import solve_exactly, solve_whole
from forestcycle.schedule.linear_program import LinearProgram

WHOLE_TOLERANCE = 1e-6
NEGLIGIBLE = 1e-9
"""Minutes and cents below this are left out of the program."""


@dataclass(frozen=True)
class Mixture:
    """How blocks mix their courses, and the crews that carry them out.

    Attributes
    ----------
    share : (columns,) float64
        Of each course in its block.
    crews : (terms, kinds) float64
        Hired crews; whole numbers where they were asked for.
    paid_days : (years, kinds) float64
        Crew-days paid.
    loss : float
        Worth undone over all years counted.
    """

    share: FloatArray
    crews: FloatArray
    paid_days: FloatArray
    loss: float


@dataclass(frozen=True)
class Relaxed:
    """The program's solution with parts of crews allowed.

    Attributes
    ----------
    mixture : Mixture
    prices : Prices
    block_cost : (blocks,) float64
        What each block's mixture costs at these prices.
    """

    mixture: Mixture
    prices: Prices
    block_cost: FloatArray


class Columns:
    """Courses of action found so far, each of one block.

    Attributes
    ----------
    block : (k,) int64
    use : Use
        Of those blocks.
    """

    def __init__(self) -> None:
        self.block: IntArray = np.zeros(0, dtype=np.int64)
        self.use: Use | None = None
        self._kept = 0

    def add(self, use: Use, chosen: BoolArray) -> None:
        """Keep a response's courses of the chosen blocks.

        Parameters
        ----------
        use : Use
            Of every block.
        chosen : (blocks,) bool
        """
        found = Use(use.minutes[chosen], use.cents[chosen], use.measures[chosen])
        self.block = np.concatenate([self.block, np.flatnonzero(chosen)])
        self.use = (
            found
            if self.use is None
            else Use(
                np.concatenate([self.use.minutes, found.minutes]),
                np.concatenate([self.use.cents, found.cents]),
                np.concatenate([self.use.measures, found.measures]),
            )
        )

    def keep_all(self) -> None:
        """Let no later thinning drop the courses of now."""
        self._kept = len(self.block)

    def thin(self, needless: FloatArray, most: int) -> None:
        """Drop all but the ``most`` least needless courses and those to be kept.

        Parameters
        ----------
        needless : (k,) float64
            0 or less for courses in use.
        most : int
        """
        if self.use is None or len(self.block) <= most:
            return
        order = np.argsort(needless, kind="stable")[:most]
        stays = needless <= 0
        stays[order] = True
        stays[: self._kept] = True
        self.block = self.block[stays]
        use = self.use
        self.use = Use(use.minutes[stays], use.cents[stays], use.measures[stays])

    def joined(self) -> Use:
        """Return what the courses use and bring.

        Returns
        -------
        Use
            One entry per course.

        Raises
        ------
        ValueError
            Where there is none yet.
        """
        if self.use is None:
            raise ValueError("no course of action yet")
        return self.use

    def mixed(self, share: FloatArray, blocks: int) -> Use:
        """Return what each block's mixture of courses uses and brings.

        Parameters
        ----------
        share : (k,) float64
            Of each course in its block.
        blocks : int
            How many there are.

        Returns
        -------
        Use
            One entry per block.
        """
        use = self.joined()
        mixing = csr_array((share, (self.block, np.arange(len(share)))), (blocks, len(share)))
        parts = (use.minutes, use.cents, use.measures)
        flat = [part.reshape(len(share), -1) for part in parts]
        minutes, cents, measures = (np.asarray(mixing @ part) for part in flat)
        return Use(
            minutes.reshape(blocks, *use.minutes.shape[1:]),
            cents,
            measures.reshape(blocks, *use.measures.shape[1:]),
        )


def needed_crews(supply: Supply, mixture: Mixture) -> FloatArray:
    """Return the whole crews by term and kind that the paid days of a mixture need.

    Parameters
    ----------
    supply : Supply
    mixture : Mixture

    Returns
    -------
    (terms, kinds) float64
    """
    in_use = mixture.paid_days / supply.days
    most = np.zeros(supply.most_crews.shape)
    np.maximum.at(most, supply.term_of_year, in_use)
    return np.asarray(np.ceil(most - WHOLE_TOLERANCE), dtype=np.float64)


class Master:
    """The program over the courses found so far.

    Parameters
    ----------
    supply : Supply
    columns : Columns
        May grow between two solutions.
    blocks : int
    weight : (years,) float64
        Of each year's worth undone.
    """

    def __init__(self, supply: Supply, columns: Columns, blocks: int, weight: FloatArray) -> None:
        self._supply, self._columns = supply, columns
        self._blocks, self._weight = blocks, weight
        self._rows, self._most = supply.columns()

    def relaxed(self) -> Relaxed:
        """Solve with parts of crews allowed.

        Returns
        -------
        Relaxed

        Raises
        ------
        RuntimeError
            If no solver finds even the course that does nothing.
        """
        program = self._program()
        solution = solve_exactly(program)
        if solution is None:
            raise RuntimeError("doing nothing fits any budget, but no solver found it")
        years = self._supply.years
        minute = solution.price[self._blocks : self._blocks + years * SKILL_COUNT]
        cent = np.maximum(solution.price[-years:], 0)
        prices = Prices(
            minute=np.maximum(minute.reshape(years, SKILL_COUNT), 0),
            cent=np.where(np.isfinite(self._supply.cents), cent, 0.0),
            measure=self.measure_prices(),
        )
        return Relaxed(self._mixture(solution.x, program), prices, -solution.price[: self._blocks])

    def measure_prices(self) -> FloatArray:
        """Return what each figure of each year costs: worth undone, by the year's weight.

        Returns
        -------
        (years, measures) float64
        """
        prices = np.zeros((len(self._weight), len(MEASURE)))
        prices[:, MEASURE["worth_undone"]] = self._weight
        return prices

    def mixture(self) -> Mixture | None:
        """Return the best mixture, None where the money does not pay the least crews.

        Returns
        -------
        Mixture or None
        """
        program = self._program()
        solution = solve_exactly(program)
        return None if solution is None else self._mixture(solution.x, program)

    def whole(self, *, gap: float, seconds: float) -> Mixture | None:
        """Return a mixture with whole crews, within ``gap`` of the best of these courses.

        Parameters
        ----------
        gap : float
            0 to 1.
        seconds : float
            For the solver.

        Returns
        -------
        Mixture or None
            None where none was found in that time.
        """
        program = self._program()
        whole = np.zeros(len(program.worth), dtype=np.bool_)
        whole[len(whole) - self._crew_count :] = True
        x = solve_whole(program, whole, gap=gap, seconds=seconds)
        if x is None:
            return None
        mixture = self._mixture(x, program)
        return replace(
            mixture, crews=np.minimum(mixture.crews, needed_crews(self._supply, mixture))
        )

    @property
    def _crew_count(self) -> int:
        return self._supply.terms * len(self._supply.crew_kinds)

    def _program(self) -> LinearProgram:
        block, use = self._columns.block, self._columns.joined()
        count, years = len(block), self._supply.years
        mixing = csr_array((np.ones(count), (block, np.arange(count))), (self._blocks, count))
        between = self._rows.shape[0] - years * SKILL_COUNT - years
        used = np.hstack([use.minutes.reshape(count, -1), np.zeros((count, between)), use.cents])
        used[np.abs(used) < NEGLIGIBLE] = 0.0
        rows = block_array([[mixing, None], [csr_array(used.T), self._rows]], format="csr")
        undone = use.measures[:, :, MEASURE["worth_undone"]] @ self._weight
        worth = np.concatenate([-undone, np.zeros(len(self._most))])
        top = np.concatenate([np.ones(count), self._most])
        low = np.concatenate([np.ones(self._blocks), np.full(self._rows.shape[0], -np.inf)])
        high = np.concatenate([np.ones(self._blocks), self._supply.limits()])
        return LinearProgram(worth=worth, most=top, rows=rows, low=low, high=high)

    def _mixture(self, x: FloatArray, program: LinearProgram) -> Mixture:
        kinds = len(self._supply.crew_kinds)
        count = len(x) - len(self._most)
        crews = x[-self._crew_count :].reshape(self._supply.terms, kinds)
        days = x[-self._crew_count - self._supply.years * kinds : -self._crew_count]
        return Mixture(
            share=x[:count],
            crews=crews,
            paid_days=days.reshape(-1, kinds),
            loss=float(-program.worth @ x),
        )
