"""Drives of the plan in force, where streets, depots and places are still the same."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from numpy.typing import NDArray

from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import PlanInForce
from forestcycle.cycle.legs import depot_names
from forestcycle.publish.plan_folder import PLAN_FILE, read_plan_layer
from forestcycle.travel import Travel
from forestcycle.travel.known import KnownWays, Way

LEAST_MOVE = 1e-9


def with_known_ways(
    city: City, plan: PlanInForce, travel: Travel, place_of_tree: NDArray[np.int64]
) -> Travel:
    """Let travel look up the drives of the plan in force.

    Parameters
    ----------
    city : City
    plan : PlanInForce
    travel : Travel
        Along the streets as they are now.
    place_of_tree : (n,) int64
        Node of each inventory tree.

    Returns
    -------
    Travel
        ``travel`` itself where anything that drives depend on has changed.

    Raises
    ------
    StoreError
        If the plan's drives, streets or depots cannot be read.
    """
    places = dict(zip(city.inventory.trees["tree_id"], place_of_tree.tolist(), strict=True))
    if not _same_ground(city, plan, places):
        return travel
    legs = read_plan_layer(plan.folder, "legs")
    depots = {name: node for node, name in depot_names(city, travel).items()}
    nodes = depots | places
    starts, ends = legs["from_node"].map(nodes), legs["to_node"].map(nodes)
    twice = set(depots) & set(places)
    known = {
        (int(start), int(end)): Way(float(minutes), float(metres), shapely.get_coordinates(line))
        for start, end, minutes, metres, line, first, last in zip(
            starts, ends, legs["minutes"], legs["metres"], legs.geometry,
            legs["from_node"], legs["to_node"], strict=True,
        )
        if line is not None and start >= 0 and end >= 0 and not {first, last} & twice
    }  # fmt: skip
    return KnownWays(travel, known)


def _same_ground(city: City, plan: PlanInForce, places: dict[str, int]) -> bool:
    """Whether rules of travel, streets, depots, and every tree and its place are as they were."""
    if plan.settings.travel != city.settings.travel or len(plan.trees) != len(places):
        return False
    before = plan.trees["place"]
    now = before.index.map(places).to_numpy(dtype=np.float64)
    moved = (before >= 0) & (before != now)
    if moved.any() or np.isnan(now).any():
        return False
    return _same_layer(plan, "streets", city.inventory.streets) and _same_layer(
        plan, "depots", city.inventory.depots
    )


def _same_layer(plan: PlanInForce, name: str, now: gpd.GeoDataFrame | None) -> bool:
    layers = pyogrio.list_layers(plan.folder / PLAN_FILE)
    present = name in {str(layer) for layer, _ in layers}
    if not present or now is None:
        return not present and now is None
    before = read_plan_layer(plan.folder, name)
    if len(before) != len(now):
        return False
    shapes = shapely.equals_exact(
        before.geometry.to_numpy(), now.geometry.to_numpy(), tolerance=LEAST_MOVE
    )
    columns = [column for column in now.columns if column != "geometry"]
    same = [
        _as_text(before[column]).equals(_as_text(now[column]))
        for column in columns
        if column in before.columns
    ]
    return bool(shapes.all()) and all(same)


def _as_text(column: pd.Series) -> pd.Series:
    text = column.astype(object).where(column.notna(), "").astype(str)
    return text.reset_index(drop=True).rename(None)
