"""The figures of a year for one tree of each state or cell, if it is visited and if it is not."""

import numpy as np

from forestcycle.outlook.faults import AFTER_VISIT, DOSE_LEFT, NO_RECORD
from forestcycle.outlook.rates import Rates
from forestcycle.outlook.states import FloatArray, IntArray
from forestcycle.outlook.trajectory import MEASURES


def year_figures(
    rates: Rates,
    state: IntArray,
    *,
    worth: FloatArray,
    dose_owed: FloatArray,
    faults: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return a year's figures per tree, in the order of ``MEASURES``.

    Minutes and direct costs are 0: they depend on the skill.

    Parameters
    ----------
    rates : Rates
    state : (n,) int64
        Flat position in the state space.
    worth, dose_owed, faults : (n,) float64
        Worth of a visit, dose that all work would take, and expected structural faults.

    Returns
    -------
    waiting, visited : (measures, n) float64
    """
    none = np.zeros(len(state))
    every = np.ones(len(state))
    overdue = (rates.late_spans > 1).ravel()[state].astype(np.float64)
    size = np.unravel_index(state, rates.shape)[1]
    young = (rates.stock.states.age_of_size[size] == 0).astype(np.float64)
    fault = rates.fault.ravel()[state]
    outgrown = faults * rates.outgrows.ravel()[state]
    unrecorded = fault == NO_RECORD
    done = np.where(unrecorded, 1 - rates.takes_two.ravel()[state], AFTER_VISIT[fault] == NO_RECORD)
    left = np.where(unrecorded, 0.0, DOSE_LEFT[fault])
    figures: dict[str, tuple[FloatArray, FloatArray]] = {
        "trees": (every, every),
        "visits": (none, every),
        "minutes": (none, none),
        "direct_cents": (none, none),
        "worth_done": (none, worth),
        "worth_undone": (worth, none),
        "on_recall": (1 - overdue, every),
        "overdue": (overdue, none),
        "young": (young, young),
        "young_on_recall": (young * (1 - overdue), young),
        "due_unvisited": ((rates.clock <= 0).ravel()[state].astype(np.float64), none),
        "structural": (faults - outgrown, faults * (1 - done)),
        "corrected": (none, faults * done),
        "past_correcting": (outgrown, none),
        "dose_owed": (dose_owed, dose_owed * left),
    }
    waiting = np.stack([figures[name][0] for name in MEASURES])
    visited = np.stack([figures[name][1] for name in MEASURES])
    return waiting, visited
