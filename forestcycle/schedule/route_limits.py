"""Limits that all crew-days share, as rows: each tree once, money, funds, wards.

A plan is a set of routes. With ``E[r, i]`` what a visit to tree ``i`` takes of
row ``r``, and ``D[r, g]`` what the use of a crew-day of group ``g`` takes, it
keeps ``sum(E over its trees) + sum(D over its crew-days) <= b``. Prices ``y``
on the rows, none below 0 (a mandatory tree, which is an equation, may have
any), prove by weak duality that no plan is worth more than ::

    b @ y + sum over g of days_g * max(0, best_g(y))

where ``best_g(y)`` limits the gain ``sum(worth_i - (E.T @ y)_i) - (D.T @ y)_g``
of any route of the group.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, csr_array, vstack

from forestcycle.schedule.group import Groups
from forestcycle.schedule.prices import Prices
from forestcycle.schedule.problem import BoolArray, FloatArray, Problem


@dataclass(frozen=True)
class RoutePrices:
    """Prices behind a bound on sets of routes.

    Attributes
    ----------
    tree : (n,) float64
        What a visit to the tree must bring; below 0 only where it is promised.
    cent : float
    fund_cent : (f,) float64
    ward_minute : (r,) float64
    crew_day : (g,) float64
        No route of the group gains more than this at the other prices.
    promised : bool
        As in :class:`forestcycle.schedule.prices.Prices`.
    """

    tree: FloatArray
    cent: float
    fund_cent: FloatArray
    ward_minute: FloatArray
    crew_day: FloatArray
    promised: bool


@dataclass(frozen=True)
class SharedLimits:
    """The rows: n trees, one budget, f funds, r wards.

    Attributes
    ----------
    per_tree : (rows, n) sparse float64
    per_day : (rows, g) float64
    most : (rows,) float64
    free : (rows,) bool
        Equations, whose price may be below 0.
    scale : (rows,) float64
        A usual size of each row's price.
    """

    per_tree: csc_array
    per_day: FloatArray
    most: FloatArray
    free: BoolArray
    scale: FloatArray


def shared_limits(problem: Problem, groups: Groups, *, promised: bool) -> SharedLimits:
    """Write down the rows.

    Parameters
    ----------
    problem : Problem
    groups : Groups
    promised : bool
        Whether mandatory trees and the wards' shares must be kept.

    Returns
    -------
    SharedLimits
    """
    n, minutes = problem.trees, problem.service_minutes
    cost, worth = problem.cost_cents.astype(np.float64), float(problem.worth.sum())
    budget = -1 if problem.budget_cents is None else problem.budget_cents
    paid = problem.fund == np.arange(len(problem.fund_budget_cents))[:, None]
    own = problem.ward == np.arange(len(problem.ward_least_share))[:, None]
    owed = (problem.ward_least_share[:, None] - own) * minutes * promised
    visits = csr_array((np.ones(n), (np.arange(n), np.arange(n))), shape=(n, n))
    money = np.vstack([cost[None, :] * (budget >= 0), cost * paid, owed])
    rows = n + len(money)
    per_day = np.zeros((rows, groups.count))
    per_day[n] = groups.day_cost_cents * (budget >= 0)
    per_minute = worth / float(minutes.sum())
    return SharedLimits(
        per_tree=csc_array(vstack([visits, csr_array(money)])),
        per_day=per_day,
        most=np.concatenate(
            [np.ones(n), [max(budget, 0)], problem.fund_budget_cents, np.zeros(len(owed))]
        ),
        free=np.concatenate([problem.mandatory & promised, np.zeros(len(money), dtype=np.bool_)]),
        scale=np.concatenate(
            [
                problem.worth,
                [worth / max(budget, 1)],
                worth / np.maximum(problem.fund_budget_cents, 1),
                np.full(len(owed), per_minute),
            ]
        ),
    )


def as_rows(tree: FloatArray, prices: Prices | RoutePrices) -> FloatArray:
    """Line prices up with the rows.

    Parameters
    ----------
    tree : (n,) float64
    prices : Prices or RoutePrices

    Returns
    -------
    (rows,) float64
    """
    return np.concatenate([tree, [prices.cent], prices.fund_cent, prices.ward_minute])


def as_prices(
    problem: Problem, rows: FloatArray, crew_day: FloatArray, *, promised: bool
) -> RoutePrices:
    """Name the rows' prices.

    Parameters
    ----------
    problem : Problem
    rows : (rows,) float64
    crew_day : (g,) float64
    promised : bool

    Returns
    -------
    RoutePrices
    """
    n, funds = problem.trees, len(problem.fund_budget_cents)
    tree, cent, fund, ward = np.split(rows, [n, n + 1, n + 1 + funds])
    return RoutePrices(tree, float(cent[0]), fund, ward, crew_day, promised)
