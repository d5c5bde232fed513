"""The layer ``legs``: every drive of every crew-day, along the streets."""

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from forestcycle.cycle.city import City
from forestcycle.cycle.outcome import Outcome
from forestcycle.travel import Travel


def legs_layer(outcome: Outcome) -> gpd.GeoDataFrame:
    """Drives from the depot to the first stop, between stops, and home.

    Parameters
    ----------
    outcome : Outcome

    Returns
    -------
    GeoDataFrame
        Lines; none where the truck stays where it is. One more row per used
        crew-day than it has stops.
    """
    day, order, start, end, from_name, to_name = _ends(outcome)
    travel = outcome.travel
    moves = start != end
    pairs, which = np.unique(np.column_stack([start, end])[moves], axis=0, return_inverse=True)
    which = which.reshape(-1)
    metres, minutes = np.zeros(len(start)), np.zeros(len(start))
    lines = np.full(len(start), None, dtype=object)
    metres[moves] = np.array([travel.metres(int(a), int(b)) for a, b in pairs])[which]
    minutes[moves] = _minutes(outcome, pairs)[which]
    drawn = np.array([_line(outcome, int(a), int(b)) for a, b in pairs] + [None], dtype=object)
    lines[moves] = drawn[:-1][which]
    return gpd.GeoDataFrame(
        {
            "crew_day_id": outcome.crew_day_names[day],
            "leg_order": order,
            "from_node": from_name,
            "to_node": to_name,
            "minutes": minutes,
            "metres": metres,
        },
        geometry=lines,
        crs=outcome.city.inventory.trees.crs,
    )


def _ends(outcome: Outcome) -> tuple[NDArray[np.int64], ...]:
    """Crew-day, order, start and end node, and their names, of every leg."""
    problem, plan = outcome.problem, outcome.plan
    used, stops = np.unique(plan.crew_day, return_counts=True)
    last = np.cumsum(stops)
    ids = outcome.city.inventory.trees["tree_id"].to_numpy().astype(str)[outcome.stop_row]
    depot = problem.depot[used]
    names = depot_names(outcome.city, outcome.travel)
    depot_name = np.array([names[node] for node in depot.tolist()], dtype=object)
    place = problem.place[plan.tree]
    # A leg ends at each stop; one more per crew-day ends at the depot.
    end, to_name = np.insert(place, last, depot), np.insert(ids.astype(object), last, depot_name)
    first = last - stops
    start = np.insert(place, first, depot)
    from_name = np.insert(ids.astype(object), first, depot_name)
    day = np.repeat(used, stops + 1)
    order = np.concatenate([np.arange(1, count + 2) for count in stops]) if len(used) else used
    return day, order, start, end, from_name, to_name


def depot_names(city: City, travel: Travel) -> dict[int, str]:
    """Name the depots.

    Parameters
    ----------
    city : City
    travel : Travel

    Returns
    -------
    dict of int to str
        By travel node, in their order. A city without a layer of depots has one, ``depot``.
    """
    depots = city.inventory.depots
    names = ["depot"] if depots is None else depots["depot"].astype(str).tolist()
    return dict(enumerate(names, travel.place_count))


def _minutes(outcome: Outcome, pairs: NDArray[np.int64]) -> NDArray[np.float64]:
    """Driving minutes of each pair, asked for by starting node."""
    minutes = np.zeros(len(pairs))
    if not len(pairs):
        return minutes
    starts, first = np.unique(pairs[:, 0], return_index=True)
    for start, rows in zip(starts, np.split(np.arange(len(pairs)), first[1:]), strict=True):
        minutes[rows] = outcome.travel.minutes([start], pairs[rows, 1])[0]
    return minutes


def _line(outcome: Outcome, start: int, end: int) -> LineString | None:
    path = outcome.travel.path(start, end)
    return LineString(path) if len(path) >= 2 else None


def routes(legs: gpd.GeoDataFrame) -> dict[str, LineString]:
    """One line per crew-day: its legs, joined in their order.

    Parameters
    ----------
    legs : GeoDataFrame

    Returns
    -------
    dict of str to LineString
        By ``crew_day_id``; a crew-day that never moves has none.
    """
    drawn = legs[legs.geometry.notna()]
    return {
        str(name): LineString(np.concatenate([line.coords for line in group.geometry]))
        for name, group in drawn.groupby("crew_day_id", sort=False)
    }
