"""Mistakes as every real inventory has them, so that setting aside shows."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from sample_city.ground import Random

ROWS_PER_MISTAKE = 1_000


def make_mistakes(trees: gpd.GeoDataFrame, random: Random) -> gpd.GeoDataFrame:
    """Spoil a few rows of a tree layer; each mistake hits about 1 row in 1,000.

    Parameters
    ----------
    trees : GeoDataFrame
        Left as it is.
    random : Generator

    Returns
    -------
    GeoDataFrame
        As many rows, of which some lack a diameter, are written twice, stand
        nowhere or are gone.
    """
    spoiled = trees.copy()
    each = max(2, len(trees) // ROWS_PER_MISTAKE)
    rows = random.choice(len(trees), 9 * each, replace=False).reshape(9, each)
    spoiled.loc[rows[0], "dbh_cm"] = np.nan
    spoiled.loc[rows[1], "dbh_cm"] = 0.0
    spoiled.loc[rows[2], "dbh_cm"] = -spoiled.loc[rows[2], "dbh_cm"]
    spoiled.loc[rows[3], "dbh_cm"] = 10 * spoiled.loc[rows[3], "dbh_cm"] + 300  # a slipped point
    spoiled.loc[rows[4], "species"] = "Arbor ignota"
    spoiled.loc[rows[4], "common_name"] = "to be identified"
    spoiled.loc[rows[5], "status"] = random.choice(["removed", "stump"], each)
    spoiled.loc[rows[6], "tree_id"] = spoiled["tree_id"].to_numpy()[rows[6] - 1]
    shapes = spoiled.geometry.to_numpy().copy()
    shapes[rows[7]] = shapes[rows[7] - 1]
    shapes[rows[8]] = shapely.Point()
    shapes[rows[8][0]] = shapely.Point(0, 0)
    spoiled = spoiled.set_geometry(gpd.GeoSeries(shapes, crs=trees.crs))
    return spoiled.astype({"tree_id": pd.StringDtype("python")})
