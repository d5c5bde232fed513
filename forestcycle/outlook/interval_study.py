"""What the length of the pruning cycle costs: crews on one side, what waits on the other.

In a cycle of c years a city visits one tree in c every year, those first whose
last visit lies longest ago, whether or not there is much to do. Short cycles
pay for many visits; in long ones work waits.

Money and worth are brought to one scale by the rate at which the city trades
them already: the worth that its present budget's last cent brings. This is a
choice of this study, not a published rate, so the cheapest cycle is given for
half and for twice that rate as well.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from forestcycle.outlook.faults import NO_RECORD, PAST
from forestcycle.outlook.horizon import Horizon
from forestcycle.outlook.respond import Use, Walk
from forestcycle.outlook.solve import HorizonPlan
from forestcycle.outlook.states import FloatArray, IntArray
from forestcycle.outlook.supply import SKILL_COUNT, has_skill
from forestcycle.outlook.trajectory import MEASURE
from forestcycle.progress import Progress, Step, silent

CYCLES = tuple(range(1, 13))
YEARS = 30
SETTLING_YEARS = 6
"""Years left out of the means: they are shaped by the city's past, not by the cycle."""
HALF, TWICE = 0.5, 2.0


class _Cohorts(NamedTuple):
    """Trees that may be visited, in the order in which a cycle reaches them."""

    order: IntArray
    trees: FloatArray


def interval_study(
    horizon: Horizon,
    *,
    worth_per_cent: float,
    cycles: Sequence[int] = CYCLES,
    years: int = YEARS,
    progress: Progress = silent,
) -> pd.DataFrame:
    """Walk a city through pruning cycles of several lengths.

    Parameters
    ----------
    horizon : Horizon
    worth_per_cent : float
        Above 0; see :func:`worth_of_a_cent`.
    cycles : sequence of int
        Lengths in years.
    years : int
        Years to walk; the means leave out the first six.
    progress : Progress, optional

    Returns
    -------
    DataFrame
        One row per cycle with yearly means: ``cycle_years visits
        share_visited cost_cents worth_undone past_correcting
        on_recall_share loss_cents total_cents total_at_half_rate_cents
        total_at_twice_the_rate_cents``. ``loss_cents`` is the worth undone in
        money; at twice the rate, waiting weighs twice as much.
    """
    rows = []
    for number, cycle in enumerate(cycles):
        progress(Step("pruning cycles", number, len(cycles)))
        rows.append({"cycle_years": cycle, **_yearly_means(horizon, cycle, years)})
    table = pd.DataFrame(rows)
    loss = table["worth_undone"] / worth_per_cent
    table["loss_cents"] = loss
    table["total_cents"] = table["cost_cents"] + loss
    table["total_at_half_rate_cents"] = table["cost_cents"] + HALF * loss
    table["total_at_twice_the_rate_cents"] = table["cost_cents"] + TWICE * loss
    return table


def cheapest_cycle(table: pd.DataFrame, column: str = "total_cents") -> tuple[int, bool]:
    """Return the cycle of least total, and whether shorter and longer ones both cost more.

    Parameters
    ----------
    table : DataFrame
        From :func:`interval_study`.
    column : str

    Returns
    -------
    cycle_years : int
    inside : bool
        False where the least total lies at either end of the cycles tried.
    """
    place = int(table[column].to_numpy().argmin())
    return int(table["cycle_years"].iloc[place]), 0 < place < len(table) - 1


def worth_of_a_cent(plan: HorizonPlan) -> float:
    """Return the worth that money brings at the margin, or on average where money does not bind.

    Parameters
    ----------
    plan : HorizonPlan
        Of the present budget.

    Returns
    -------
    float
        Above 0; 1 for a plan that spends and brings nothing.
    """
    binding = plan.cent_price[plan.cent_price > 0]
    if len(binding):
        return float(binding.mean())
    done, spent = plan.trajectory.city("worth_done").sum(), plan.trajectory.cents.sum()
    return float(done / spent) if done > 0 and spent > 0 else 1.0


def _yearly_means(horizon: Horizon, cycle: int, years: int) -> dict[str, float]:
    use = _walk_cycle(horizon, cycle, years)
    kept = slice(min(SETTLING_YEARS, years - 1), None)
    measures = use.measures.sum(axis=0)[kept].mean(axis=0)
    minutes = use.minutes.sum(axis=0)[kept].mean(axis=0)
    trees = measures[MEASURE["trees"]]
    return {
        "visits": measures[MEASURE["visits"]],
        "share_visited": measures[MEASURE["visits"]] / trees,
        "cost_cents": float(minutes @ _cents_per_minute(horizon))
        + measures[MEASURE["direct_cents"]],
        "worth_undone": measures[MEASURE["worth_undone"]],
        "past_correcting": measures[MEASURE["past_correcting"]],
        "on_recall_share": measures[MEASURE["on_recall"]] / trees,
    }


def _walk_cycle(horizon: Horizon, cycle: int, years: int) -> Use:
    walk = Walk(horizon, years=years)
    cells = horizon.stock.cells
    wanted = float(cells.trees.sum()) / cycle
    waited = _years_since_visit(horizon).ravel()
    first = _Cohorts(np.argsort(-waited[cells.state], kind="stable"), cells.trees * cells.open)
    walk.first(_reach(first, wanted))
    wards = len(horizon.stock.wards)
    order = np.argsort(-np.repeat(waited, wards), kind="stable")
    for _ in range(years - 1):
        there = walk.stand * horizon.later.open[:, None]
        share = _reach(_Cohorts(order, there.ravel()), wanted).reshape(there.shape)
        walk.step(np.repeat(share[:, :, None], SKILL_COUNT, axis=2))
    return walk.use()


def _reach(cohorts: _Cohorts, wanted: float) -> FloatArray:
    """Share of each cohort that is visited, in order, until so many trees are."""
    trees = cohorts.trees[cohorts.order]
    before = np.cumsum(trees) - trees
    share = np.clip((wanted - before) / np.maximum(trees, 1e-12), 0.0, 1.0)
    found = np.zeros(len(trees))
    found[cohorts.order] = share
    return found


def _years_since_visit(horizon: Horizon) -> FloatArray:
    """Years since the last visit, of the state space's shape."""
    space, pace = horizon.stock.states, horizon.stock.pace
    fault = np.arange(space.shape[2])
    with_work = ((fault != NO_RECORD) & (fault != PAST))[None, None, :, None]
    span = np.where(
        with_work,
        pace.years_with_work[:, :, None, None],
        pace.years_with_none[:, :, None, None],
    )
    return np.asarray(span - space.clock, dtype=np.float64)


def _cents_per_minute(horizon: Horizon) -> FloatArray:
    """Price of a crew minute by skill, from the cheapest crews that have it."""
    kinds = horizon.stock.crew_kinds
    price = np.array([kind.day_cost_cents / kind.minutes_per_day for kind in kinds])
    prices = np.where(has_skill(kinds), price, np.inf).min(axis=1)
    dearest = float(price.max(initial=0.0))
    return np.where(np.isfinite(prices), prices, dearest)
