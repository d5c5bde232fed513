"""Prices of minutes and money, and the bound that follows from them."""

from dataclasses import dataclass

import numpy as np

from forestcycle.schedule.group import Groups
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.relaxation import Relaxation, price_trees

FLOAT_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Prices:
    """What one more unit of each limit adds to the worth; none is below 0.

    Attributes
    ----------
    minute : (g,) float64
        Per minute of a group's crew-days, on the radial row.
    stop_minute : (g,) float64
        The same on the stop row; 0 where that row does not bind.
    cent : float
        Per cent of the whole budget; 0 without one.
    fund_cent : (f,) float64
        Per cent of each fund.
    ward_minute : (r,) float64
        Per service minute owed to each ward.
    promised : bool
        The bound is on plans that visit every mandatory tree and keep every
        ward's share. False where these cannot all be kept: then the bound is
        on any plan, and ``ward_minute`` is 0.
    """

    minute: FloatArray
    stop_minute: FloatArray
    cent: float
    fund_cent: FloatArray
    ward_minute: FloatArray
    promised: bool = True


@dataclass(frozen=True)
class Priced:
    """What prices say about each tree, in the problem's order, and in all.

    Attributes
    ----------
    value : float
        Upper limit on the worth of any plan.
    surplus : (n,) float64
        What a tree adds to the limit beyond the price of what it uses.
    group : (n,) int64
        Group of crew-days in which it is worth most; -1 where none fits.
    share : (n,) float64
        Share of its place's parking and stop that it bears there.
    """

    value: float
    surplus: FloatArray
    group: IntArray
    share: FloatArray


def net_worth(problem: Problem, trees: Relaxation, prices: Prices) -> FloatArray:
    """Worth of each tree less the price of its money, and with what its ward is owed.

    Parameters
    ----------
    problem : Problem
    trees : Relaxation
        Of the problem.
    prices : Prices

    Returns
    -------
    (n,) float64
        In the order of ``trees``.
    """
    fund_cent = np.append(prices.fund_cent, 0.0)[trees.fund]
    owed = np.append(prices.ward_minute, 0.0)[trees.ward]
    owed -= prices.ward_minute @ problem.ward_least_share
    net: FloatArray = trees.worth - trees.cost * (prices.cent + fund_cent) + trees.service * owed
    return net


def price_out(problem: Problem, groups: Groups, trees: Relaxation, prices: Prices) -> Priced:
    """Evaluate prices over every tree and every group (weak duality).

    Parameters
    ----------
    problem : Problem
    groups : Groups
    trees : Relaxation
        Both of the problem.
    prices : Prices

    Returns
    -------
    Priced
    """
    must = trees.mandatory if prices.promised else np.zeros_like(trees.mandatory)
    surplus, group, share = price_trees(
        trees._replace(mandatory=must),
        net_worth(problem, trees, prices),
        prices.minute,
        prices.stop_minute,
    )
    day = prices.minute * trees.capacity + prices.stop_minute * (trees.capacity - trees.home_travel)
    day = np.maximum(0.0, day - prices.cent * groups.day_cost_cents)
    limits = [surplus.sum(), groups.days @ day, prices.fund_cent @ problem.fund_budget_cents]
    limits.append(prices.cent * (problem.budget_cents or 0))
    position = np.empty(len(trees.tree), dtype=np.int64)
    position[trees.tree] = np.arange(len(trees.tree))
    return Priced(
        value=float(sum(limits) + FLOAT_TOLERANCE * sum(map(abs, limits))),
        surplus=surplus[position],
        group=group[position],
        share=share[position],
    )
