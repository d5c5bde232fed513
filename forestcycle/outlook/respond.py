"""The best answer of every tree to given prices: dynamic programming, then a walk forward.

Given what a crew minute and a cent cost in each year, trees no longer compete:
each has its own cheapest course, found backwards from the last year. Its cost,
summed over all trees, is the trees' side of a proven bound.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from forestcycle.outlook.effects import Effects
from forestcycle.outlook.horizon import Horizon
from forestcycle.outlook.states import FloatArray, IntArray
from forestcycle.outlook.trajectory import MEASURE


class Prices(NamedTuple):
    """What things cost in each year, not below zero where they limit something.

    Attributes
    ----------
    minute : (years, skills) float64
        One crew minute with a skill.
    cent : (years,) float64
    measure : (years, measures) float64
        One unit of each figure; the worth undone costs 1, rewards are negative.
    """

    minute: FloatArray
    cent: FloatArray
    measure: FloatArray


@dataclass(frozen=True)
class Use:
    """What courses of action use and bring, per block of trees; a block is a kind in a ward.

    Attributes
    ----------
    minutes : (blocks, years, skills) float64
        Travel included.
    cents : (blocks, years) float64
    measures : (blocks, years, measures) float64
    """

    minutes: FloatArray
    cents: FloatArray
    measures: FloatArray


@dataclass(frozen=True)
class Response:
    """Every tree's best course under prices.

    Attributes
    ----------
    cost : (blocks,) float64
        Least cost of all trees of a block, what they use included.
    use : Use
    """

    cost: FloatArray
    use: Use


@dataclass(frozen=True)
class Decision:
    """Which trees to visit, as shares 0..1 of those that are there.

    Attributes
    ----------
    first : (cells,) float64 or bool
    later : list of (states, wards, skills) float64 or bool
        For the second year and those after it.
    """

    first: NDArray[Any]
    later: list[NDArray[Any]]


def blocks(horizon: Horizon) -> int:
    """Return the number of blocks: kinds times wards.

    Parameters
    ----------
    horizon : Horizon

    Returns
    -------
    int
    """
    return horizon.stock.states.shape[0] * len(horizon.stock.wards)


def block_of_cell(horizon: Horizon) -> IntArray:
    """Return the block of each cell.

    Parameters
    ----------
    horizon : Horizon

    Returns
    -------
    (cells,) int64
    """
    stock = horizon.stock
    kind = stock.cells.state // (stock.states.count // stock.states.shape[0])
    place: IntArray = kind * len(stock.wards) + stock.cells.ward
    return place


def respond(horizon: Horizon, prices: Prices) -> Response:
    """Find every tree's cheapest course.

    Parameters
    ----------
    horizon : Horizon
    prices : Prices
        Their first axis is the number of years.

    Returns
    -------
    Response
    """
    decision, cost = decide(horizon, prices)
    return Response(cost=cost, use=walk(horizon, decision))


def decide(horizon: Horizon, prices: Prices) -> tuple[Decision, FloatArray]:
    """Decide backwards from the last year.

    Parameters
    ----------
    horizon : Horizon
    prices : Prices

    Returns
    -------
    decision : Decision
    cost : (blocks,) float64
    """
    later: list[NDArray[Any]] = []
    for year, wait, gain in gains_backwards(horizon, prices):
        if year > 0:
            later.append(gain > 0)
        else:
            first = gain > 0
            total = horizon.stock.cells.trees * (wait - np.maximum(gain, 0))
    later.reverse()
    cost = np.bincount(block_of_cell(horizon), weights=total, minlength=blocks(horizon))
    return Decision(first, later), np.asarray(cost, dtype=np.float64)


def gains_backwards(
    horizon: Horizon, prices: Prices
) -> Iterator[tuple[int, FloatArray, FloatArray]]:
    """Say what waiting costs and what visits save, from the last year back to the first.

    Parameters
    ----------
    horizon : Horizon
    prices : Prices

    Yields
    ------
    year : int
        Counted from 0.
    wait : (states, wards) float64
        (cells,) in year 0.
    gain : (states, wards, skills) float64
        (cells,) in year 0. What a visit saves less all that it costs.
    """
    to_go = np.zeros((horizon.stock.states.count, len(horizon.stock.wards)))
    for year in range(len(prices.cent) - 1, 0, -1):
        wait, gain = _gains(horizon, prices, year, to_go)
        to_go = wait - np.einsum("swk,sk->sw", np.maximum(gain, 0), horizon.later.skill_share)
        yield year, wait, gain
    yield 0, *first_gains(horizon, prices, to_go)


def _gains(
    horizon: Horizon, prices: Prices, year: int, to_go: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return what waiting costs (states, wards), and what a visit saves (states, wards, skills)."""
    effects, overhead = horizon.later, horizon.stock.overhead
    waiting, visited = _year_costs(effects, prices, year)
    wait = waiting[:, None] + horizon.waiting @ to_go
    saved = wait - visited[:, None] - horizon.visiting @ to_go
    minute = prices.minute[year] + prices.measure[year, MEASURE["minutes"]]
    gain = saved[:, :, None] - minute * (effects.minutes[:, None, :] + overhead[:, None])
    gain -= _cent(prices, year) * effects.cents[:, None, :]
    gain[~effects.open] = 0.0
    return wait, gain


def first_gains(
    horizon: Horizon, prices: Prices, to_go: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return what waiting costs and what a visit saves in the first year, per tree of a cell.

    Parameters
    ----------
    horizon : Horizon
    prices : Prices
    to_go : (states, wards) float64
        Cost of all later years.

    Returns
    -------
    wait, gain : (cells,) float64
    """
    cells, effects = horizon.stock.cells, horizon.first_year
    waiting, visited = _year_costs(effects, prices, 0)
    wait = waiting + (horizon.waiting @ to_go)[cells.state, cells.ward]
    visit = visited + (horizon.visiting @ to_go)[cells.state, cells.ward]
    minute = prices.minute[0] + prices.measure[0, MEASURE["minutes"]]
    minutes = effects.minutes[:, 0] + horizon.stock.overhead[cells.ward]
    paid = minute[cells.skill] * minutes + _cent(prices, 0) * effects.cents[:, 0]
    return wait, np.where(cells.open, wait - visit - paid, 0.0)


def _cent(prices: Prices, year: int) -> float:
    return float(prices.cent[year] + prices.measure[year, MEASURE["direct_cents"]])


def _year_costs(effects: Effects, prices: Prices, year: int) -> tuple[FloatArray, FloatArray]:
    """Return a year's cost per tree without and with a visit, minutes and money apart, (n,)."""
    return prices.measure[year] @ effects.waiting, prices.measure[year] @ effects.visited


def use_cost(use: Use, prices: Prices) -> FloatArray:
    """Return what courses cost at prices, shape (blocks,).

    Parameters
    ----------
    use : Use
    prices : Prices

    Returns
    -------
    (blocks,) float64
    """
    cost = (use.measures * prices.measure).sum(axis=(1, 2))
    cost = cost + (use.minutes * prices.minute).sum(axis=(1, 2))
    return np.asarray(cost + use.cents @ prices.cent, dtype=np.float64)


def walk(horizon: Horizon, decision: Decision) -> Use:
    """Follow decisions forward and add up what they use and bring.

    Parameters
    ----------
    horizon : Horizon
    decision : Decision
        Shares to visit, 0..1; a share where a visit is not possible counts as 0.

    Returns
    -------
    Use
    """
    steps = Walk(horizon, years=1 + len(decision.later))
    steps.first(decision.first)
    for share in decision.later:
        steps.step(share)
    return steps.use()


class Walk:
    """The forward walk, a year at a time, for courses that are chosen on the way.

    Parameters
    ----------
    horizon : Horizon
    years : int

    Attributes
    ----------
    stand : (states, wards) float64
        Trees in each state at the beginning of the year to come.
    """

    def __init__(self, horizon: Horizon, years: int) -> None:
        self._horizon = horizon
        self._stay, self._go = horizon.waiting.T.tocsr(), horizon.visiting.T.tocsr()
        skills = horizon.later.minutes.shape[1]
        count = blocks(horizon)
        self._year = 0
        self._minutes = np.zeros((count, years, skills))
        self._measures = np.zeros((count, years, len(MEASURE)))
        self.stand = np.zeros((horizon.stock.states.count, len(horizon.stock.wards)))

    def first(self, share: NDArray[Any]) -> None:
        """Take the first year, visiting a share of each cell, shape (cells,).

        Parameters
        ----------
        share : (cells,) float64 or bool
            0 to 1.
        """
        horizon, cells = self._horizon, self._horizon.stock.cells
        effects = horizon.first_year
        visits = cells.trees * share * cells.open
        waits = cells.trees - visits
        block, count = block_of_cell(horizon), blocks(horizon)
        minutes = visits * (effects.minutes[:, 0] + horizon.stock.overhead[cells.ward])
        measures = effects.waiting * waits + effects.visited * visits
        measures[MEASURE["minutes"]] = minutes
        measures[MEASURE["direct_cents"]] = visits * effects.cents[:, 0]
        for number, values in enumerate(measures):
            self._measures[:, 0, number] = np.bincount(block, weights=values, minlength=count)
        for number in range(self._minutes.shape[2]):
            of_skill = minutes * (cells.skill == number)
            self._minutes[:, 0, number] = np.bincount(block, of_skill, minlength=count)
        self.stand = self._stay @ self._on_states(waits) + self._go @ self._on_states(visits)
        self._year = 1

    def step(self, share: NDArray[Any]) -> None:
        """Take a later year, visiting shares of each state, shape (states, wards, skills).

        Parameters
        ----------
        share : (states, wards, skills) float64 or bool
            0 to 1.
        """
        horizon, year = self._horizon, self._year
        effects, overhead = horizon.later, horizon.stock.overhead
        there = self.stand * effects.open[:, None]
        visits = np.zeros_like(self.stand)
        cents = np.zeros(len(self._minutes))
        for skill in range(share.shape[2]):
            part = there * effects.skill_share[:, skill, None] * share[:, :, skill]
            at_tree = effects.minutes[:, skill, None] + overhead
            self._minutes[:, year, skill] = self._by_block(part * at_tree)
            cents += self._by_block(part * effects.cents[:, skill, None])
            visits += part
        waits = self.stand - visits
        figures = self._per_block(effects.waiting, waits)
        figures += self._per_block(effects.visited, visits)
        figures[:, MEASURE["minutes"]] = self._minutes[:, year].sum(axis=1)
        figures[:, MEASURE["direct_cents"]] = cents
        self._measures[:, year] = figures
        self.stand = self._stay @ waits + self._go @ visits
        self._year += 1

    def use(self) -> Use:
        """Return what the years so far used and brought.

        Returns
        -------
        Use
        """
        return Use(
            minutes=self._minutes[:, : self._year],
            cents=self._measures[:, : self._year, MEASURE["direct_cents"]],
            measures=self._measures[:, : self._year],
        )

    def _on_states(self, trees: FloatArray) -> FloatArray:
        cells, shape = self._horizon.stock.cells, self.stand.shape
        place = np.ravel_multi_index((cells.state, cells.ward), shape)
        summed = np.bincount(place, weights=trees, minlength=shape[0] * shape[1])
        return np.asarray(summed.reshape(shape), dtype=np.float64)

    def _by_block(self, values: FloatArray) -> FloatArray:
        """Sum values (states, wards) over the states of each kind, shape (blocks,)."""
        kinds, wards = self._horizon.stock.states.shape[0], values.shape[1]
        summed = values.reshape(kinds, -1, wards).sum(axis=1).ravel()
        return np.asarray(summed, dtype=np.float64)

    def _per_block(self, figures: FloatArray, trees: FloatArray) -> FloatArray:
        """Sum figures (m, states) over trees (states, wards), shape (blocks, m)."""
        kinds = self._horizon.stock.states.shape[0]
        by_kind = figures.reshape(len(figures), kinds, -1).transpose(1, 0, 2)
        summed = by_kind @ trees.reshape(kinds, -1, trees.shape[1])
        return np.ascontiguousarray(summed.transpose(0, 2, 1)).reshape(-1, len(figures))
