"""The first year's trees, counted into cells of trees that are alike."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from forestcycle.outlook.facts import TreeFacts
from forestcycle.outlook.faults import CORRECTABLE, NO_RECORD
from forestcycle.outlook.pace import Pace
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray, StateSpace
from forestcycle.practice.assessment import SKILLS, Assessment

RATE_STEP = 0.05
"""Trees of one cell differ by at most so much (as a share) in worth per minute."""
ALIKE = ["state", "ward", "skill", "open", "step"]
SUMMED = ("worth", "minutes", "cents", "dose_owed", "faults")


class Cells(NamedTuple):
    """Trees that are alike in the first year, one entry per cell; means over its trees.

    Attributes
    ----------
    state, ward, skill : (c,) int64
    trees : (c,) float64
        How many.
    worth, minutes, cents, dose_owed, faults : (c,) float64
        ``minutes`` at the tree; ``faults`` is the expected number of
        structural faults that can still be corrected.
    open : (c,) bool
        Whether a visit in the first year is possible and worth something.
    """

    state: IntArray
    ward: IntArray
    skill: IntArray
    trees: FloatArray
    worth: FloatArray
    minutes: FloatArray
    cents: FloatArray
    dose_owed: FloatArray
    faults: FloatArray
    open: BoolArray


def count_cells(
    facts: TreeFacts,
    assessment: Assessment,
    space: StateSpace,
    *,
    size: IntArray,
    ward: IntArray,
    pace: Pace,
    skills: int,
) -> Cells:
    """Count a city's trees into cells.

    Parameters
    ----------
    facts : TreeFacts
    assessment : Assessment
        Of the same trees.
    space : StateSpace
    size, ward : (n,) int64
        Of each tree.
    pace : Pace
        For the faults that are not on record.
    skills : int
        Bits of what the city's crews can do together.

    Returns
    -------
    Cells
        In the order of state, ward and skill.
    """
    table = assessment.trees
    clock = np.ceil(facts.years_to_due).astype(np.int64)
    worth = table["priority"].to_numpy(np.float64)
    minutes = table["minutes"].to_numpy(np.float64)
    skill = np.asarray(table["skill"].astype(str).map(SKILLS.index), dtype=np.int64)
    in_time = (table["not_before"] <= pd.Timestamp(assessment.year_end)).to_numpy(np.bool_)
    has_skill = ((1 << skill) & skills) > 0
    can = (worth > 0) & (minutes > 0) & in_time & has_skill
    frame = pd.DataFrame(
        {
            "state": space.index(facts.kind, size, facts.fault, clock),
            "ward": ward,
            "skill": skill,
            "open": can,
            "step": rate_step(np.where(can, worth / np.maximum(minutes, 1e-9), 1.0)),
            "trees": 1.0,
            "worth": worth,
            "minutes": minutes,
            "cents": table["cost_cents"].to_numpy(np.float64),
            "dose_owed": table["dose_needed"].to_numpy(np.float64),
            "faults": expected_faults(facts, size, pace),
        }
    )
    summed = frame.groupby(ALIKE, sort=True).sum().reset_index()
    trees = summed["trees"].to_numpy(np.float64)
    return Cells(
        state=summed["state"].to_numpy(np.int64),
        ward=summed["ward"].to_numpy(np.int64),
        skill=summed["skill"].to_numpy(np.int64),
        trees=trees,
        open=summed["open"].to_numpy(np.bool_),
        **{name: summed[name].to_numpy(np.float64) / trees for name in SUMMED},
    )


def rate_step(rate: FloatArray) -> IntArray:
    """Return the step on a scale of ratios on which a worth per minute lies.

    Parameters
    ----------
    rate : (n,) float64
        Worth per minute.

    Returns
    -------
    (n,) int64
        Rates of one step differ by at most ``RATE_STEP``, as a share.
    """
    step = np.round(np.log(np.maximum(rate, 1e-6)) / np.log1p(RATE_STEP))
    return np.asarray(step, dtype=np.int64)


def expected_faults(facts: TreeFacts, size: IntArray, pace: Pace) -> FloatArray:
    """Return how many structural faults that can still be corrected each tree is expected to have.

    Parameters
    ----------
    facts : TreeFacts
    size : (n,) int64
    pace : Pace

    Returns
    -------
    (n,) float64
        0 or 1 with a record; without one, the chance by kind and size, as far
        as it has built up since the last visit.
    """
    hidden = pace.prior_share * pace.correctable
    faults = np.where(
        facts.fault == NO_RECORD,
        hidden[facts.kind, size] * facts.built_up,
        CORRECTABLE[facts.fault],
    )
    return np.asarray(faults, dtype=np.float64)
