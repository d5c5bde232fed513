"""The layer ``trees``: every usable tree, when it is visited or why it is not."""

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from forestcycle.cycle.assess import assessed_trees
from forestcycle.cycle.outcome import Outcome


def trees_layer(outcome: Outcome) -> gpd.GeoDataFrame:
    """Assessed trees with the plan's decision on each.

    Parameters
    ----------
    outcome : Outcome

    Returns
    -------
    GeoDataFrame
        ``assessed_trees`` plus ``place``, ``closed_windows``, ``planned_on``,
        ``crew_day_id``, ``reason`` and ``reason_text``.
    """
    trees = assessed_trees(outcome.city, outcome.assessment)
    row, crew_day = outcome.stop_row, outcome.plan.crew_day
    day = outcome.problem.date[crew_day].astype("timedelta64[D]")
    planned_on = np.full(len(trees), np.datetime64("NaT"), dtype="datetime64[ns]")
    planned_on[row] = np.datetime64(outcome.calendar.first_day) + day
    name = np.full(len(trees), "", dtype=object)
    name[row] = outcome.crew_day_names[crew_day]
    trees["place"] = _places(outcome)
    trees["planned_on"] = planned_on
    trees["crew_day_id"] = name
    trees["reason"] = outcome.reason
    trees["reason_text"] = outcome.reason_text
    return trees


def _places(outcome: Outcome) -> NDArray[np.int64]:
    """Parking place of each tree that a crew-day could visit, -1 for the others."""
    place = np.full(len(outcome.assessment.trees), -1, dtype=np.int64)
    place[outcome.problem.tree] = outcome.problem.place
    return place
