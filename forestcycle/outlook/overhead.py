"""Crew minutes per visit besides the work at the tree: driving, parking, walking over."""

from typing import Any

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from forestcycle.inventory.schema import Inventory
from forestcycle.outlook.states import BoolArray, FloatArray
from forestcycle.outlook.wards import ward_names
from forestcycle.settings.travel import TravelRules

MINUTES_PER_HOUR, METRES_PER_KILOMETRE = 60.0, 1000.0
FEWEST_STOPS = 30
"""A ward with fewer planned stops takes the city's mean."""


def measured_overhead(stops: pd.DataFrame, crew_days: pd.DataFrame) -> dict[str, float]:
    """Take the minutes per visit from a plan, ways home shared out evenly.

    Parameters
    ----------
    stops, crew_days : DataFrame
        Layers of these names of ``plan.gpkg``.

    Returns
    -------
    dict of str to float
        By ward, and the city's mean as ``""``.
    """
    total = float(crew_days["travel_minutes"].sum())
    to_stops = float(stops["travel_minutes"].sum())
    mean = total / max(len(stops), 1)
    scale = total / to_stops if to_stops > 0 else 1.0
    by_ward = stops.groupby(ward_names(stops))["travel_minutes"].agg(["mean", "size"])
    enough = by_ward[by_ward["size"] >= FEWEST_STOPS]
    return {"": mean} | {str(ward): float(row) * scale for ward, row in enough["mean"].items()}


def likely_visits(
    worth: FloatArray, minutes: FloatArray, to_visit: BoolArray, crew_minutes: float
) -> BoolArray:
    """Pick the trees that crews would reach if they took the worthiest minutes first.

    Crews that reach half of the trees due drive further from one to the next
    than crews that reach all of them.

    Parameters
    ----------
    worth, minutes : (n,) float64
        Of a visit; the minutes with what parking takes.
    to_visit : (n,) bool
        Trees that could be visited in a year.
    crew_minutes : float
        That the year's crews and money pay for.

    Returns
    -------
    (n,) bool
        At least one tree, if there is one to visit.
    """
    rate = np.where(to_visit, worth / np.maximum(minutes, 1.0), -1.0)
    order = np.argsort(-rate, kind="stable")
    reached = np.cumsum(minutes[order]) <= crew_minutes
    reached[:1] = True
    picked = np.zeros(len(minutes), dtype=np.bool_)
    picked[order[reached]] = True
    return picked & to_visit


def estimated_overhead(
    inventory: Inventory, to_visit: BoolArray, travel: TravelRules, visits_per_day: float
) -> dict[str, float]:
    """Estimate the minutes per visit from where the trees stand, without a plan.

    Trees within a square of ``place_metres`` share one parking; the next
    square that has a tree to visit is one leg away, air distance times the
    detour factor; and each crew-day drives from the depot and back once.

    Parameters
    ----------
    inventory : Inventory
    to_visit : (n,) bool
        Trees that are likely to be visited in a year.
    travel : TravelRules
    visits_per_day : float
        Visits of a crew-day, to share out the way from the depot and back.

    Returns
    -------
    dict of str to float
        By ward, and the city's mean as ``""``.
    """
    trees = inventory.trees
    x, y = trees.geometry.x.to_numpy(), trees.geometry.y.to_numpy()
    per_metre = travel.detour_factor * MINUTES_PER_HOUR / METRES_PER_KILOMETRE / travel.speed_kmh
    square = max(travel.place_metres, 1.0)
    frame = pd.DataFrame(
        {
            "ward": ward_names(trees).to_numpy(),
            "column": np.floor(x / square),
            "row": np.floor(y / square),
            "home": _to_depot(inventory, x, y) * per_metre,
        }
    )[to_visit]
    if frame.empty:
        return {"": travel.parking_minutes}
    squares = frame.groupby(["ward", "column", "row"], as_index=False).size()
    squares["leg"] = _to_nearest(squares["column"], squares["row"]) * square * per_metre
    squares["minutes"] = travel.parking_minutes + squares["leg"]
    by_ward = squares.groupby("ward")[["minutes", "size"]].sum()
    per_visit = by_ward["minutes"] / by_ward["size"]
    home = frame.groupby("ward")["home"].mean() * 2 / max(visits_per_day, 1.0)
    found = {str(ward): float(minutes) for ward, minutes in (per_visit + home).items()}
    mean = (squares["minutes"].sum() / len(frame)) + 2 * frame["home"].mean() / max(
        visits_per_day, 1.0
    )
    return {"": float(mean)} | found


def _to_depot(inventory: Inventory, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return metres through the air to the nearest depot, or to the middle of all trees."""
    if inventory.depots is None:
        return np.asarray(np.hypot(x - x.mean(), y - y.mean()), dtype=np.float64)
    depots = inventory.depots.geometry
    nearest: Any = cKDTree(np.column_stack([depots.x, depots.y])).query(np.column_stack([x, y]))[0]
    return np.asarray(nearest, dtype=np.float64)


def _to_nearest(column: "pd.Series[float]", row: "pd.Series[float]") -> FloatArray:
    """Return the distance from each square to the nearest other one, in squares."""
    points = np.column_stack([column, row])
    if len(points) < 2:
        return np.zeros(len(points))
    distances: Any = cKDTree(points).query(points, k=2)[0]
    return np.asarray(distances[:, 1], dtype=np.float64)
