"""From trees, depots and perhaps streets to travel."""

from pathlib import Path

import geopandas as gpd
import numpy as np

from forestcycle.errors import Fault
from forestcycle.settings.travel import TravelRules
from forestcycle.travel.cache import cached_streets
from forestcycle.travel.distance import DistanceTravel
from forestcycle.travel.matrix import StreetTravel
from forestcycle.travel.places import Places, group_places
from forestcycle.travel.snap import Snapped, join_snapped, snap
from forestcycle.travel.streets import StreetGraph
from forestcycle.travel.travel import Floats, Integers, Travel

LAYER = "streets"


def build_travel(
    x: Floats,
    y: Floats,
    depot_x: Floats,
    depot_y: Floats,
    streets: gpd.GeoDataFrame | None,
    rules: TravelRules,
    *,
    cache: Path | None = None,
) -> tuple[Travel, Integers]:
    """Group trees into places and make minutes between places and depots.

    Without a street layer, or with one that lies elsewhere than the trees,
    minutes are estimated from air distance; ``kind`` and ``notes`` of the
    result say so.

    Parameters
    ----------
    x, y : (n,) float64
        Trees, in metres.
    depot_x, depot_y : (d,) float64
    streets : GeoDataFrame or None
        ``one_way``, ``speed_kmh`` and lines, in the CRS of the trees.
    rules : TravelRules
    cache : Path, optional
        Folder in which the street graph is kept for the next time, under a
        name made from its contents.

    Returns
    -------
    travel : Travel
        Nodes 0..p-1 are places, p..p+d-1 depots.
    place_of_tree : (n,) int64
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    depot_x, depot_y = np.asarray(depot_x, dtype=np.float64), np.asarray(depot_y, dtype=np.float64)
    graph = None if streets is None else cached_streets(streets, rules.speed_kmh, folder=cache)
    if graph is None:
        return _by_air(x, y, depot_x, depot_y, rules, notes=())
    places = group_places(x, y, graph, metres=rules.place_metres)
    assert places.on_street is not None  # noqa: S101 - grouped on a graph
    at_depots = snap(depot_x, depot_y, graph)
    far = places.on_street.metres_off[places.of_tree] > rules.farthest_snap_metres
    if len(far) and far.mean() > 0.5:
        note = Fault(
            f"{int(far.sum()):,} of {len(far):,} trees stand more than "
            f"{rules.farthest_snap_metres:g} m from any street: travel is air distance",
            LAYER,
            "check that the street layer covers the same city and states its CRS",
        )
        return _by_air(x, y, depot_x, depot_y, rules, notes=(note,))
    travel = StreetTravel(
        streets=graph,
        spots=join_snapped(places.on_street, at_depots),
        x=np.concatenate([places.x, depot_x]),
        y=np.concatenate([places.y, depot_y]),
        place_count=len(places),
        notes=_notes(graph, places, at_depots, rules),
    )
    return travel, places.of_tree


def _by_air(
    x: Floats,
    y: Floats,
    depot_x: Floats,
    depot_y: Floats,
    rules: TravelRules,
    *,
    notes: tuple[Fault, ...],
) -> tuple[DistanceTravel, Integers]:
    places = group_places(x, y, None, metres=rules.place_metres)
    travel = DistanceTravel(
        x=np.concatenate([places.x, depot_x]),
        y=np.concatenate([places.y, depot_y]),
        place_count=len(places),
        detour_factor=rules.detour_factor,
        speed_kmh=rules.speed_kmh,
        notes=notes,
    )
    return travel, places.of_tree


def _notes(
    graph: StreetGraph, places: Places, at_depots: Snapped, rules: TravelRules
) -> tuple[Fault, ...]:
    notes = []
    cut_off = graph.cut_off
    if cut_off.any():
        metres = graph.length[cut_off].sum()
        rows = np.unique(graph.source_row[cut_off])
        notes.append(
            Fault(
                f"{len(rows):,} streets ({metres / 1000:,.1f} km) cannot be driven to and back "
                f"from the rest; the first are rows {', '.join(map(str, rows[:5]))}",
                LAYER,
                "join them to the network, or check their one-way direction",
            )
        )
    off = places.on_street.metres_off[places.of_tree] if places.on_street else np.empty(0)
    for name, metres_off in (("trees", off), ("depots", at_depots.metres_off)):
        far = metres_off > rules.farthest_snap_metres
        if far.any():
            notes.append(
                Fault(
                    f"{int(far.sum()):,} {name} stand more than {rules.farthest_snap_metres:g} m "
                    f"from any street, up to {metres_off.max():,.0f} m; the way to them is "
                    "counted at walking pace",
                    LAYER,
                    "add the missing streets or park roads",
                )
            )
    return tuple(notes)
