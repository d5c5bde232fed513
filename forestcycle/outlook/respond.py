"""The best answer of every tree to given prices: dynamic programming, then a walk forward.

Given what a crew minute and a cent cost in each year, trees no longer compete:
each has its own cheapest course, found backwards from the last year. Its cost,
summed over all trees, is the trees' side of a proven bound.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from forestcycle.outlook.horizon import MEASURE, Effects, Horizon
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray


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


Decision = tuple[BoolArray | FloatArray, list[BoolArray] | list[FloatArray]]
"""Share of each cell (c,) to visit in the first year, and of each state (states, wards) later."""


def blocks(horizon: Horizon) -> int:
    """Return the number of blocks: kinds times wards."""
    return horizon.stock.states.shape[0] * len(horizon.stock.wards)


def block_of_cell(horizon: Horizon) -> IntArray:
    """Return the block of each cell."""
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
    wards = len(horizon.stock.wards)
    to_go = np.zeros((horizon.stock.states.count, wards))
    later: list[BoolArray] = []
    for year in range(len(prices.cent) - 1, 0, -1):
        waiting, visited = year_costs(horizon.later, horizon.stock.overhead, prices, year)
        wait = waiting[:, None] + horizon.waiting @ to_go
        visit = visited + horizon.visiting @ to_go
        better = (visit < wait) & horizon.later.open[:, None]
        to_go = np.where(better, visit, wait)
        later.append(better)
    later.reverse()
    cells = horizon.stock.cells
    waiting, visited = year_costs(horizon.first_year, horizon.stock.overhead, prices, 0)
    cell = np.arange(len(cells.state))
    wait = waiting + (horizon.waiting @ to_go)[cells.state, cells.ward]
    visit = visited[cell, cells.ward] + (horizon.visiting @ to_go)[cells.state, cells.ward]
    first = (visit < wait) & cells.open
    total = cells.trees * np.where(first, visit, wait)
    cost = np.bincount(block_of_cell(horizon), weights=total, minlength=blocks(horizon))
    return (first, later), np.asarray(cost, dtype=np.float64)


def year_costs(
    effects: Effects, overhead: FloatArray, prices: Prices, year: int
) -> tuple[FloatArray, FloatArray]:
    """Return what a year costs per tree at prices.

    Returns
    -------
    waiting : (n,) float64
    visited : (n, wards) float64
    """
    waiting = prices.measure[year] @ effects.waiting
    visited = prices.measure[year] @ effects.visited
    visited = visited + effects.skill_minutes @ prices.minute[year]
    visited = visited + prices.cent[year] * effects.visited[MEASURE["direct_cents"]]
    travel = (effects.skill_visits @ prices.minute[year])[:, None] * overhead
    on_the_way = prices.measure[year, MEASURE["minutes"]] * overhead
    return waiting, visited[:, None] + travel + on_the_way


def use_cost(use: Use, prices: Prices) -> FloatArray:
    """Return what courses cost at prices, shape (blocks,)."""
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
    steps = Walk(horizon, years=1 + len(decision[1]))
    steps.first(np.asarray(decision[0], dtype=np.float64))
    for share in decision[1]:
        steps.step(np.asarray(share, dtype=np.float64))
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
        skills = horizon.later.skill_minutes.shape[1]
        count = blocks(horizon)
        self._year = 0
        self._minutes = np.zeros((count, years, skills))
        self._measures = np.zeros((count, years, len(MEASURE)))
        self.stand = np.zeros((horizon.stock.states.count, len(horizon.stock.wards)))

    def first(self, share: FloatArray) -> None:
        """Take the first year, visiting a share of each cell, shape (cells,)."""
        horizon, cells = self._horizon, self._horizon.stock.cells
        effects = horizon.first_year
        visits = cells.trees * share * cells.open
        waits = cells.trees - visits
        block, count = block_of_cell(horizon), blocks(horizon)
        measures = effects.waiting * waits + effects.visited * visits
        travel = horizon.stock.overhead[cells.ward] * visits
        measures[MEASURE["minutes"]] += travel
        minutes = effects.skill_minutes * visits[:, None] + effects.skill_visits * travel[:, None]
        for number, values in enumerate(measures):
            self._measures[:, 0, number] = np.bincount(block, weights=values, minlength=count)
        for number, values in enumerate(minutes.T):
            self._minutes[:, 0, number] = np.bincount(block, weights=values, minlength=count)
        self.stand = self._stay @ self._on_states(waits) + self._go @ self._on_states(visits)
        self._year = 1

    def step(self, share: FloatArray) -> None:
        """Take a later year, visiting a share of each state, shape (states, wards)."""
        horizon = self._horizon
        effects, overhead = horizon.later, horizon.stock.overhead
        visits = self.stand * share * effects.open[:, None]
        waits = self.stand - visits
        at_tree = self._per_block(effects.skill_minutes.T, visits)
        count = self._per_block(effects.skill_visits.T, visits)
        on_the_way = count * np.tile(overhead, horizon.stock.states.shape[0])[:, None]
        measures = self._per_block(effects.waiting, waits) + self._per_block(
            effects.visited, visits
        )
        measures[:, MEASURE["minutes"]] += on_the_way.sum(axis=1)
        self._minutes[:, self._year] = at_tree + on_the_way
        self._measures[:, self._year] = measures
        self.stand = self._stay @ waits + self._go @ visits
        self._year += 1

    def use(self) -> Use:
        """Return what the years so far used and brought."""
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

    def _per_block(self, figures: FloatArray, trees: FloatArray) -> FloatArray:
        """Sum figures (m, states) over trees (states, wards), shape (blocks, m)."""
        kinds = self._horizon.stock.states.shape[0]
        by_kind = figures.reshape(len(figures), kinds, -1).transpose(1, 0, 2)
        summed = by_kind @ trees.reshape(kinds, -1, trees.shape[1])
        return np.ascontiguousarray(summed.transpose(0, 2, 1)).reshape(-1, len(figures))
