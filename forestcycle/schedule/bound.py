"""A proven upper limit on the worth of any plan.

A linear program shares trees out among groups of crew-days, under the rows of
:mod:`forestcycle.schedule.relaxation`, the budgets and the least shares of
wards. Its dual values are prices: what one more minute of a group, one more
cent, or one minute less owed to a ward would add to the worth.

The bound is then *recomputed from the prices alone* over every tree and group.
By weak duality that number is an upper limit on any plan's worth for whatever
prices, so a solver that stopped early or at a tolerance can make the bound
loose, but not wrong. Whoever has the prices can compute it again
(:func:`certificate`).
"""

import time
from dataclasses import dataclass
from functools import partial

import numpy as np

from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule.allocation import Allocation, allocation_program
from forestcycle.schedule.glop import solve_exactly
from forestcycle.schedule.group import Groups, crew_day_groups
from forestcycle.schedule.prices import Priced, Prices, price_out
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.relaxation import Relaxation, count_fitting, relax
from forestcycle.schedule.route_limits import RoutePrices

MOST_PAIRS = 100_000
MOST_ROUNDS = 5
LEAST_GAIN = 1e-5
TRIANGLE_NODES = 60
TRIANGLE_TOLERANCE = 1e-6


@dataclass(frozen=True)
class Bound:
    """Upper limit on any plan's worth, with what it rests on.

    Attributes
    ----------
    value : float
        No plan is worth more, as long as every condition holds.
    prices : Prices
        From which ``value`` can be computed again.
    groups : Groups
        The groups of crew-days that the prices refer to.
    surplus : (n,) float64
        What each tree adds to the bound beyond the price of what it uses.
    best_group : (n,) int64
        Group in which each tree is worth most; -1 where none fits.
    allocation : Allocation
        Which group visits which tree in the linear program; of a sample of
        the trees where there are too many.
    conditions : dict of str to bool
        What the bound rests on, and whether it was found to hold.
    unreachable : (k,) int64
        Trees that no crew-day can visit, positions in the problem's arrays.
    routes : RoutePrices or None
        Prices on sets of routes from which ``value`` can be computed again,
        where they prove more than ``prices`` do.
    """

    value: float
    prices: Prices
    groups: Groups
    surplus: FloatArray
    best_group: IntArray
    allocation: Allocation
    conditions: dict[str, bool]
    unreachable: IntArray
    routes: RoutePrices | None = None

    @property
    def certified(self) -> bool:
        """Whether every condition of the bound was found to hold."""
        return all(self.conditions.values())


def allocate(
    problem: Problem, *, seconds: float | None = None, progress: Progress = silent
) -> Bound:
    """Bound the worth of any plan, and price minutes and money.

    Parameters
    ----------
    problem : Problem
    seconds : float, optional
        Once so many have passed, prices found so far are not bettered any more.
        Without it, the same problem gives the same bound.
    progress : Progress

    Returns
    -------
    Bound

    Raises
    ------
    RuntimeError
        No solver found a solution, though leaving every tree out is one.
    """
    until = np.inf if seconds is None else time.monotonic() + seconds
    groups = crew_day_groups(problem)
    trees = relax(problem, groups)
    fitting = count_fitting(trees, np.ones(problem.trees, dtype=np.bool_))
    chosen = _sample(trees, fitting)
    look = partial(_best_prices, problem, groups, trees, chosen, until=until, progress=progress)
    found = look(promised=True) or look(promised=False)
    if found is None:
        raise RuntimeError("the allocation program has a solution, but no solver found it")
    return Bound(
        value=found.priced.value,
        prices=found.prices,
        groups=groups,
        surplus=found.priced.surplus,
        best_group=found.priced.group,
        allocation=found.allocation,
        conditions=_conditions(problem),
        unreachable=np.sort(trees.tree[fitting == 0]),
    )


def bound_at(problem: Problem, groups: Groups, prices: Prices) -> Bound:
    """Bound the worth of any plan by prices that are known already.

    Parameters
    ----------
    problem : Problem
    groups : Groups
        Of the problem's crew-days.
    prices : Prices
        Of these groups; any that are not negative give a valid bound.

    Returns
    -------
    Bound
        With an empty allocation.
    """
    priced = price_out(problem, groups, relax(problem, groups), prices)
    none = np.empty(0, dtype=np.int64)
    return Bound(
        value=priced.value,
        prices=prices,
        groups=groups,
        surplus=priced.surplus,
        best_group=priced.group,
        allocation=Allocation(none, none, np.empty(0)),
        conditions=_conditions(problem),
        unreachable=np.flatnonzero(priced.group < 0),
    )


def certificate(problem: Problem, prices: Prices) -> float:
    """Compute the bound from its prices.

    Parameters
    ----------
    problem : Problem
    prices : Prices
        Any prices that are not negative give a valid bound.

    Returns
    -------
    float
    """
    groups = crew_day_groups(problem)
    return price_out(problem, groups, relax(problem, groups), prices).value


@dataclass(frozen=True)
class _Found:
    """Prices, the bound that they give, and the allocation behind them."""

    prices: Prices
    priced: Priced
    allocation: Allocation


def _best_prices(
    problem: Problem,
    groups: Groups,
    trees: Relaxation,
    chosen: BoolArray,
    *,
    promised: bool,
    until: float,
    progress: Progress,
) -> _Found | None:
    """Solve, price, share parking out anew by these prices, and solve again.

    None if promises cannot be kept.
    """
    best: _Found | None = None
    share = _even_share(trees)
    for number in range(MOST_ROUNDS):
        program = allocation_program(
            problem, groups, trees, share, chosen=chosen, promised=promised
        )
        solution = solve_exactly(program.program)
        if solution is None:
            break
        if program.breaks_promises(solution):
            return None
        prices = program.prices(solution)
        priced = price_out(problem, groups, trees, prices)
        gained = np.inf if best is None else best.priced.value - priced.value
        if gained > 0:
            best = _Found(prices, priced, program.allocation(solution, trees))
        progress(Step("bounding", number + 1, MOST_ROUNDS, bound=priced.value))
        settled = gained < LEAST_GAIN * abs(priced.value) or np.diff(trees.first).max() == 1
        if settled or time.monotonic() >= until:
            break
        share = _at_most_whole(trees, priced.share[trees.tree])
    return best


def _sample(trees: Relaxation, fitting: IntArray) -> BoolArray:
    """Every k-th place's trees, where all of them would be too many."""
    every = -(-int(fitting.sum()) // MOST_PAIRS)
    place = np.arange(len(trees.first) - 1)
    return np.repeat(place % every == 0, np.diff(trees.first)) if every > 1 else fitting >= 0


def _even_share(trees: Relaxation) -> FloatArray:
    """Let a place's trees bear its parking by their service minutes."""
    minutes = np.repeat(np.add.reduceat(trees.service, trees.first[:-1]), np.diff(trees.first))
    even: FloatArray = trees.service / np.maximum(minutes, np.finfo(np.float64).tiny)
    return even


def _at_most_whole(trees: Relaxation, share: FloatArray) -> FloatArray:
    """Shrink shares so that no place's parking is borne more than once."""
    whole = np.repeat(np.add.reduceat(share, trees.first[:-1]), np.diff(trees.first))
    shrunk: FloatArray = share / np.maximum(whole, 1.0)
    return shrunk


def _conditions(problem: Problem) -> dict[str, bool]:
    """Check on the data what the proofs in ``relaxation`` take for granted."""
    nodes = np.unique(np.concatenate([problem.depot, problem.place]))
    some = nodes[np.linspace(0, len(nodes) - 1, min(len(nodes), TRIANGLE_NODES)).astype(np.int64)]
    some = np.unique(np.concatenate([some, problem.depot]))
    minutes = problem.travel.minutes(some, some)
    shortest = minutes
    for via in range(len(some)):
        shortest = np.minimum(shortest, minutes[:, [via]] + minutes[[via], :])
    finite = np.isfinite(minutes)
    return {
        "no way is longer than a detour (triangle inequality, on a sample)": bool(
            (minutes[finite] <= shortest[finite] + TRIANGLE_TOLERANCE).all()
            and np.isfinite(shortest).sum() == finite.sum()
        ),
        "no minutes are below zero": bool(
            (minutes >= 0).all()
            and (problem.service_minutes >= 0).all()
            and problem.parking_minutes >= 0
        ),
        "minutes are along streets, not estimated from air distance": (
            getattr(problem.travel, "kind", "given") != "distance"
        ),
    }
