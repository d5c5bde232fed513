"""Four wards: the river parts the town one way, a line across it the other."""

import geopandas as gpd
import numpy as np
import shapely
from shapely.ops import split

from sample_city.ground import CRS, MIDDLE, Ground, town_radius, turn
from sample_city.names import WARDS

GOLDEN_ANGLE = np.pi * (3 - np.sqrt(5))
"""Turned by this each time, points never line up."""


def make_wards(ground: Ground) -> gpd.GeoDataFrame:
    """Divide the town.

    Parameters
    ----------
    ground : Ground

    Returns
    -------
    GeoDataFrame
        ``ward`` and its polygon; together they cover the town.
    """
    radius = 1.25 * town_radius(ground.half)
    town = shapely.Point(MIDDLE).buffer(radius)
    step = np.linspace(-1.2 * radius, 1.2 * radius, 60)
    down = shapely.LineString(
        np.column_stack(turn(0.06 * radius * np.sin(step * 4 / radius), step))
    )
    across = shapely.LineString(
        np.column_stack(turn(step, 0.1 * radius * np.cos(step * 3 / radius)))
    )
    parts = [quarter for half in split(town, down).geoms for quarter in split(half, across).geoms]
    parts.sort(
        key=lambda part: np.arctan2(part.centroid.y - MIDDLE[1], part.centroid.x - MIDDLE[0])
    )
    return gpd.GeoDataFrame({"ward": list(WARDS)}, geometry=parts, crs=CRS)


def make_depots(ground: Ground, names: tuple[str, ...]) -> gpd.GeoDataFrame:
    """Spread the depots over the town, evenly and off its middle.

    Parameters
    ----------
    ground : Ground
    names : tuple of str

    Returns
    -------
    GeoDataFrame
        ``depot`` and its point.
    """
    number = np.arange(len(names)) + 0.5
    away = 0.62 * town_radius(ground.half) * np.sqrt(number / len(names))
    angle = 0.9 + GOLDEN_ANGLE * number
    x, y = turn(away * np.cos(angle), away * np.sin(angle))
    points = gpd.points_from_xy(np.round(x, 2), np.round(y, 2))
    return gpd.GeoDataFrame({"depot": list(names)}, geometry=points, crs=CRS)
