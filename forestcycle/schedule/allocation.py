"""The linear program that shares trees out among groups of crew-days."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from forestcycle.schedule.group import Groups
from forestcycle.schedule.linear_program import LinearProgram, Solution
from forestcycle.schedule.prices import Prices
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.relaxation import Relaxation, count_fitting, list_fitting

BROKEN_PROMISE = 100.0
"""A promise is broken only where keeping it costs this many times the largest worth."""


@dataclass(frozen=True)
class Allocation:
    """Which group visits which tree, and how much of it.

    Attributes
    ----------
    tree : (k,) int64
        Position in the problem's arrays; a tree may be split over groups.
    group : (k,) int64
    fraction : (k,) float64
        Above 0, adding up to 1 at most for each tree.
    """

    tree: IntArray
    group: IntArray
    fraction: FloatArray


@dataclass(frozen=True)
class _Pairs:
    """Fitting pairs of tree and group, with what each takes of the rows."""

    row: IntArray
    trees: int
    tree: IntArray
    group: IntArray
    radial: FloatArray
    stop: FloatArray


@dataclass(frozen=True)
class AllocationProgram:
    """The linear program, and where its parts stand.

    Attributes
    ----------
    program : LinearProgram
        Variables: pairs, used days of each group, mandatory trees missed,
        minutes still owed to each ward, all service minutes. Rows: trees, the
        radial row and the stop row of each group, the budget, funds, all
        service minutes, wards.
    """

    program: LinearProgram
    pairs: _Pairs
    groups: int
    missed: int
    funds: int
    wards: int
    promised: bool
    has_budget: bool
    scale: float

    def prices(self, solution: Solution) -> Prices:
        """Read the prices off the rows' dual values, none below 0.

        Parameters
        ----------
        solution : Solution

        Returns
        -------
        Prices
        """
        ends = np.cumsum([self.pairs.trees, self.groups, self.groups, 1, self.funds, 1, self.wards])
        _, radial, stop, cent, fund, _, ward, _ = np.split(solution.price, ends)
        return Prices(
            minute=np.maximum(radial, 0.0),
            stop_minute=np.maximum(stop, 0.0),
            cent=max(0.0, float(cent[0])) if self.has_budget else 0.0,
            fund_cent=np.maximum(fund, 0.0),
            ward_minute=np.maximum(-ward, 0.0) if self.promised else np.zeros(self.wards),
            promised=self.promised,
        )

    def allocation(self, solution: Solution, trees: Relaxation) -> Allocation:
        """Read off which group visits which tree.

        Parameters
        ----------
        solution : Solution
        trees : Relaxation
            From which the program was made.

        Returns
        -------
        Allocation
            Pairs with less than a millionth of a tree left out.
        """
        fraction = solution.x[: len(self.pairs.tree)]
        used = fraction > 1e-6
        return Allocation(
            tree=trees.tree[self.pairs.tree[used]],
            group=self.pairs.group[used],
            fraction=np.minimum(fraction[used], 1.0),
        )

    def breaks_promises(self, solution: Solution) -> bool:
        """Whether a mandatory tree is missed or a ward still owed minutes.

        Parameters
        ----------
        solution : Solution

        Returns
        -------
        bool
        """
        start = len(self.pairs.tree) + self.groups
        broken = solution.x[start : start + self.missed + self.wards]
        return bool(self.promised and broken.sum() > 1e-3)


def allocation_program(
    problem: Problem,
    groups: Groups,
    trees: Relaxation,
    share: FloatArray,
    *,
    chosen: BoolArray | None = None,
    promised: bool = True,
) -> AllocationProgram:
    """Write down the linear program.

    Parameters
    ----------
    problem : Problem
    groups : Groups
    trees : Relaxation
        Both of the problem.
    share : (n,) float64
        Share of its place's parking that each tree bears, in the order of
        ``trees``, adding up to 1 at most at each place.
    chosen : (n,) bool, optional
        A sample of trees, in the order of ``trees``; all limits shrink by the
        sample's share of the trees. All trees by default.
    promised : bool
        Whether mandatory trees and the wards' shares must be kept.

    Returns
    -------
    AllocationProgram
    """
    chosen = np.ones(len(trees.tree), dtype=np.bool_) if chosen is None else chosen
    scale = float(chosen.mean())
    pairs = _pairs(trees, share, chosen)
    must = trees.mandatory[chosen] & promised
    wards = len(problem.ward_least_share)
    blocks = [
        _tree_rows(pairs, must),
        *_day_rows(trees, pairs),
        _budget_row(trees, groups, pairs, problem.budget_cents, scale),
        _fund_rows(trees, pairs, problem.fund_budget_cents, scale),
        *_ward_rows(trees, pairs, problem.ward_least_share, promised=promised),
    ]
    widths = [len(pairs.tree), groups.count, int(must.sum()), wards, 1]
    penalty = BROKEN_PROMISE * trees.worth.max(initial=1.0)
    per_minute = penalty / trees.service.min(initial=1.0)
    worth = np.concatenate(
        [
            trees.worth[pairs.tree],
            np.zeros(groups.count),
            np.full(widths[2], -penalty),
            np.full(wards, -per_minute),
            [0.0],
        ]
    )
    most = np.full(len(worth), np.inf)
    most[: widths[0]] = 1.0
    most[widths[0] : widths[0] + widths[1]] = groups.days * scale
    return AllocationProgram(
        program=LinearProgram(
            worth=worth,
            most=most,
            rows=_stack(blocks, widths),
            low=np.concatenate([block.low for block in blocks]),
            high=np.concatenate([block.high for block in blocks]),
        ),
        pairs=pairs,
        groups=groups.count,
        missed=widths[2],
        funds=len(problem.fund_budget_cents),
        wards=wards,
        promised=promised,
        has_budget=problem.budget_cents is not None,
        scale=scale,
    )


PAIRS, DAYS, MISSED, OWED, TOTAL = range(5)
Entries = list[tuple[int, IntArray, IntArray, FloatArray]]
"""Kind of variable, row, column within the kind, coefficient."""


@dataclass(frozen=True)
class _Block:
    """Some rows, each with its limits."""

    entries: Entries
    low: FloatArray
    high: FloatArray


def _pairs(trees: Relaxation, share: FloatArray, chosen: BoolArray) -> _Pairs:
    count = int(count_fitting(trees, chosen).sum())
    tree, place, group, stretched = list_fitting(trees, chosen, count)
    parking = share[tree] * trees.parking
    return _Pairs(
        row=(np.cumsum(chosen) - 1)[tree],
        trees=int(chosen.sum()),
        tree=tree,
        group=group,
        radial=stretched * (trees.service[tree] + parking),
        stop=trees.service[tree] + parking + share[tree] * trees.stop_travel[place],
    )


def _tree_rows(pairs: _Pairs, must: BoolArray) -> _Block:
    """One visit at most; of a mandatory tree, one visit or a broken promise."""
    column = np.arange(len(pairs.tree))
    row = np.flatnonzero(must)
    return _Block(
        entries=[
            (PAIRS, pairs.row, column, np.ones(len(column))),
            (MISSED, row, np.arange(len(row)), np.ones(len(row))),
        ],
        low=np.where(must, 1.0, -np.inf),
        high=np.ones(pairs.trees),
    )


def _day_rows(trees: Relaxation, pairs: _Pairs) -> list[_Block]:
    """Minutes of each group: the radial row and the stop row."""
    column, group = np.arange(len(pairs.tree)), np.arange(len(trees.capacity))
    no_limit, zero = np.full(len(group), -np.inf), np.zeros(len(group))
    limits = (trees.capacity, trees.capacity - trees.home_travel)
    return [
        _Block([(PAIRS, pairs.group, column, used), (DAYS, group, group, -limit)], no_limit, zero)
        for used, limit in zip((pairs.radial, pairs.stop), limits, strict=True)
    ]


def _budget_row(
    trees: Relaxation, groups: Groups, pairs: _Pairs, budget: int | None, scale: float
) -> _Block:
    column, group = np.arange(len(pairs.tree)), np.arange(groups.count)
    return _Block(
        entries=[
            (PAIRS, np.zeros_like(column), column, trees.cost[pairs.tree]),
            (DAYS, np.zeros_like(group), group, groups.day_cost_cents.astype(np.float64)),
        ],
        low=np.array([-np.inf]),
        high=np.array([np.inf if budget is None else budget * scale]),
    )


def _fund_rows(trees: Relaxation, pairs: _Pairs, budgets: IntArray, scale: float) -> _Block:
    column = np.flatnonzero(trees.fund[pairs.tree] >= 0)
    tree = pairs.tree[column]
    return _Block(
        entries=[(PAIRS, trees.fund[tree], column, trees.cost[tree])],
        low=np.full(len(budgets), -np.inf),
        high=budgets.astype(np.float64) * scale,
    )


def _ward_rows(
    trees: Relaxation, pairs: _Pairs, least_share: FloatArray, *, promised: bool
) -> list[_Block]:
    """All service minutes, and each ward's share of them."""
    wards, zero = np.arange(len(least_share)), np.zeros(1, dtype=np.int64)
    column = np.arange(len(pairs.tree)) if len(wards) else zero[:0]
    total = _Block(
        entries=[
            (PAIRS, np.zeros_like(column), column, trees.service[pairs.tree[column]]),
            (TOTAL, zero, zero, np.array([-1.0])),
        ],
        low=np.zeros(1),
        high=np.zeros(1),
    )
    inside = column[trees.ward[pairs.tree[column]] >= 0]
    tree = pairs.tree[inside]
    shares = _Block(
        entries=[
            (PAIRS, trees.ward[tree], inside, trees.service[tree]),
            (OWED, wards, wards, np.ones(len(wards))),
            (TOTAL, wards, np.zeros_like(wards), -least_share),
        ],
        low=np.full(len(wards), 0.0 if promised else -np.inf),
        high=np.full(len(wards), np.inf),
    )
    return [total, shares]


def _stack(blocks: list[_Block], widths: list[int]) -> csr_array:
    """Put the blocks below each other, and the kinds of variables side by side."""
    left = np.concatenate([[0], np.cumsum(widths)])
    top = np.concatenate([[0], np.cumsum([len(block.low) for block in blocks])])
    parts = [
        (top[number] + row, left[kind] + column, value)
        for number, block in enumerate(blocks)
        for kind, row, column, value in block.entries
    ]
    row, column, value = (np.concatenate(part) for part in zip(*parts, strict=True))
    rows = coo_array((value, (row, column)), shape=(int(top[-1]), int(left[-1])))
    return csr_array(rows)
