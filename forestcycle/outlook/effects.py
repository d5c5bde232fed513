"""What a year means for each state or cell: its figures, and what a visit takes."""

from dataclasses import dataclass

import numpy as np

from forestcycle.outlook.faults import PAST
from forestcycle.outlook.rates import Rates
from forestcycle.outlook.states import BoolArray, FloatArray
from forestcycle.outlook.year_figures import year_figures


@dataclass(frozen=True)
class Effects:
    """What a year means for trees of some kind, per tree; n is states or cells.

    Attributes
    ----------
    waiting, visited : (measures, n) float64
        Figures of the year if the tree is not visited, and if it is, except
        for minutes and direct costs, which depend on the skill.
    skill_share : (n, skills) float64
        Share of the trees whose visit needs each skill.
    minutes : (n, skills) float64
        Crew minutes at a tree whose visit needs that skill.
    cents : (n, skills) float64
        Direct cost of a visit that needs that skill.
    open : (n,) bool
        Whether a visit is possible.
    """

    waiting: FloatArray
    visited: FloatArray
    skill_share: FloatArray
    minutes: FloatArray
    cents: FloatArray
    open: BoolArray


def effects_in_the_first_year(rates: Rates) -> Effects:
    """Return what the first year means for each cell, whose trees keep their own figures.

    Parameters
    ----------
    rates : Rates

    Returns
    -------
    Effects
        Per cell of the stock.
    """
    cells = rates.stock.cells
    skills = rates.stock.means.skill_share.shape[-1]
    waiting, visited = year_figures(
        rates,
        cells.state,
        worth=cells.worth,
        dose_owed=cells.dose_owed,
        faults=cells.faults,
    )
    return Effects(
        waiting=waiting,
        visited=visited,
        skill_share=np.eye(skills)[cells.skill],
        minutes=np.tile(cells.minutes[:, None], skills) * rates.chances.minutes,
        cents=np.tile(cells.cents[:, None], skills),
        open=cells.open,
    )


def effects_later(rates: Rates) -> Effects:
    """Return what any later year means for each state, by the means of its visits.

    Parameters
    ----------
    rates : Rates

    Returns
    -------
    Effects
        Per state.
    """
    stock, means = rates.stock, rates.stock.means
    clocks = rates.shape[3]

    def spread(values: FloatArray) -> FloatArray:
        return np.repeat(values[..., None], clocks, axis=3)

    def by_skill(values: FloatArray) -> FloatArray:
        repeated = np.repeat(values[:, :, :, None, :], clocks, axis=3)
        return repeated.reshape(stock.states.count, -1)

    overdue = np.minimum(rates.late_spans, stock.most_overdue_spans) * (rates.clock <= 0)
    worth = rates.ripeness * rates.built_up * spread(means.points)
    worth = worth + stock.overdue_points * overdue
    owed = spread(means.dose_owed) * np.where(rates.fault == PAST, rates.ripeness, rates.built_up)
    waiting, visited = year_figures(
        rates,
        np.arange(stock.states.count),
        worth=worth.ravel(),
        dose_owed=owed.ravel(),
        faults=rates.faults.ravel(),
    )
    return Effects(
        waiting=waiting,
        visited=visited,
        skill_share=by_skill(means.skill_share),
        minutes=by_skill(means.minutes) * rates.chances.minutes,
        cents=by_skill(means.cents),
        open=(rates.ripeness > 0).ravel(),
    )
