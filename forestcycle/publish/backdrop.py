"""What lies beneath the trees: streets with their names, wards, parks and depots."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely
from numpy.typing import NDArray

from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.text import plain

WORLD = 2**28
"""Width of the square world map (spherical Mercator, EPSG:3857) in our units: 0.15 m each at
the equator, less elsewhere, and any place fits a 32-bit integer."""

EARTH_GIRTH = 2 * np.pi * 6_378_137.0
"""Width of EPSG:3857 in its own metres; the radius is that of WGS 84."""

STREET_DETAIL_M = 1.5
AREA_DETAIL_M = 5.0


@dataclass(frozen=True)
class Ground:
    """The city's own layers, all in one CRS.

    Attributes
    ----------
    crs : pyproj.CRS
    streets, wards, parks, depots : GeoDataFrame or None
    """

    crs: pyproj.CRS
    streets: gpd.GeoDataFrame | None
    wards: gpd.GeoDataFrame | None
    parks: gpd.GeoDataFrame | None
    depots: gpd.GeoDataFrame | None


def ground_of(plan: PlanFolder) -> Ground:
    """Take the city's own layers from a plan.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    Ground
    """
    return Ground(plan.trees.crs, plan.streets, plan.wards, plan.parks, plan.depots)


def world_units(x: NDArray[np.float64], y: NDArray[np.float64], crs: Any) -> NDArray[np.int64]:  # noqa: ANN401
    """Turn coordinates into the units of the maps.

    Parameters
    ----------
    x, y : (n,) float64
        Coordinates in `crs`.
    crs : any that pyproj understands

    Returns
    -------
    (n, 2) int64
        East of 180° W and south of the map's northern edge, 0 to ``WORLD``.
    """
    east, north = _to_mercator(pyproj.CRS(crs)).transform(x, y)
    share = np.column_stack([0.5 + east / EARTH_GIRTH, 0.5 - north / EARTH_GIRTH])
    units: NDArray[np.int64] = np.rint(share * WORLD).astype(np.int64)
    return units


@lru_cache(maxsize=1)
def _to_mercator(crs: pyproj.CRS) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(crs, "EPSG:3857", always_xy=True)


def backdrop(
    ground: Ground, *, around: tuple[float, float, float, float] | None = None
) -> dict[str, Any]:
    """Pack the city's own layers.

    Parameters
    ----------
    ground : Ground
    around : (west, south, east, north), optional
        In the layers' CRS; only what touches this box is packed. All by default.

    Returns
    -------
    dict
        For JSON: ``streets``, ``wards`` and ``parks`` are lists of a name and then one list of
        integers per part: a first point in world units, then steps; ``depots`` are lists of
        name, x and y.
    """
    return {
        "streets": _lines(_near(ground.streets, around), "street"),
        "wards": _areas(_near(ground.wards, around), "ward"),
        "parks": _areas(_near(ground.parks, around), "park"),
        "depots": _points(ground.depots, "depot"),
    }


def steps(points: NDArray[np.int64]) -> list[int]:
    """Write a path as its first point and then steps, which take few digits.

    Parameters
    ----------
    points : (k, 2) int64

    Returns
    -------
    list of int
        ``x, y, dx, dy, dx, dy, ...``
    """
    return np.diff(points, axis=0, prepend=0).ravel().tolist()


def paths(geometry: gpd.GeoSeries) -> list[list[int]]:
    """Pack lines.

    Parameters
    ----------
    geometry : GeoSeries of LineString

    Returns
    -------
    list of list of int
        One per line, as `steps` writes it; empty for None.
    """
    coordinates, line = shapely.get_coordinates(geometry.to_numpy(), return_index=True)
    points = world_units(coordinates[:, 0], coordinates[:, 1], geometry.crs)
    ends = np.searchsorted(line, np.arange(1, len(geometry)))
    return [steps(part) for part in np.split(points, ends)]


def _near(
    layer: gpd.GeoDataFrame | None, around: tuple[float, float, float, float] | None
) -> gpd.GeoDataFrame | None:
    if layer is None or around is None:
        return layer
    box = shapely.box(*around)
    return layer[shapely.intersects(layer.geometry.to_numpy(), box)]


def _names(layer: gpd.GeoDataFrame, column: str) -> pd.Series:
    if column not in layer:
        return pd.Series("", index=layer.index)
    names: pd.Series = layer[column].astype(str).map(plain)
    return names


def _lines(layer: gpd.GeoDataFrame | None, column: str) -> list[list[Any]]:
    """One entry per name; pieces that meet are joined, so that a name finds room to stand."""
    if layer is None or layer.empty:
        return []
    pieces, row = shapely.get_parts(layer.geometry.to_numpy(), return_index=True)
    codes, names = pd.factorize(_names(layer, column).to_numpy()[row])
    order = np.argsort(codes, kind="stable")
    merged = shapely.line_merge(shapely.multilinestrings(pieces[order], indices=codes[order]))
    parts, name = shapely.get_parts(merged, return_index=True)
    parts = gpd.GeoSeries(shapely.simplify(parts, STREET_DETAIL_M), crs=layer.crs)
    return _gather(names, name, paths(parts))


def _areas(layer: gpd.GeoDataFrame | None, column: str) -> list[list[Any]]:
    if layer is None or layer.empty:
        return []
    simple = shapely.simplify(layer.geometry.to_numpy(), AREA_DETAIL_M)
    shapes, row = shapely.get_parts(simple, return_index=True)
    rings, shape = shapely.get_rings(shapes, return_index=True)
    outlines = gpd.GeoSeries(rings, crs=layer.crs)
    return _gather(_names(layer, column).to_numpy(), row[shape], paths(outlines))


def _points(layer: gpd.GeoDataFrame | None, column: str) -> list[list[Any]]:
    if layer is None:
        return []
    here = world_units(layer.geometry.x.to_numpy(), layer.geometry.y.to_numpy(), layer.crs)
    return [[name, *xy] for name, xy in zip(_names(layer, column), here.tolist(), strict=True)]


def _gather(
    names: NDArray[np.object_], owner: NDArray[np.int64], parts: list[list[int]]
) -> list[list[Any]]:
    gathered: list[list[Any]] = [[name] for name in names]
    for index, part in zip(owner, parts, strict=True):
        gathered[index].append(part)
    return gathered
