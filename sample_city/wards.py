"""Four wards: the river parts the town one way, a line across it the other."""

import geopandas as gpd
import numpy as np
import shapely
from shapely.ops import split

from sample_city.ground import CRS, MIDDLE, Ground, town_radius, turn
from sample_city.names import DEPOTS, WARDS


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


def make_depots(ground: Ground) -> gpd.GeoDataFrame:
    """Put one yard in the north-east and one in the south-west of the town.

    Parameters
    ----------
    ground : Ground

    Returns
    -------
    GeoDataFrame
        ``depot`` and its point.
    """
    away = 0.45 * town_radius(ground.half)
    x, y = turn(np.array([0.6 * away, -0.9 * away]), np.array([0.8 * away, -0.3 * away]))
    points = gpd.points_from_xy(np.round(x, 2), np.round(y, 2))
    return gpd.GeoDataFrame({"depot": list(DEPOTS)}, geometry=points, crs=CRS)
