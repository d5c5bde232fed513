"""What stands on the planting sites."""

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from sample_city.ground import CRS, Floats, Ground, Integers, Random, Texts
from sample_city.planting import Sites
from sample_city.species import (
    choose_species,
    crown_diameter_m,
    diameter_cm,
    height_m,
    species_mix,
)

THIS_YEAR = 2026
FIRST_PLANTING = 1900
RECORDS_SINCE = 1990
TREES_PER_SCHOOL = 1_200
SCHOOL_METRES = 140.0


def make_trees(sites: Sites, ground: Ground, random: Random) -> gpd.GeoDataFrame:
    """Grow a tree on every site.

    Parameters
    ----------
    sites : Sites
    ground : Ground
    random : Generator

    Returns
    -------
    GeoDataFrame
        One row per tree with the fields of the city's tree layer, and
        ``planted_year``, which the city knows only in part.
    """
    count = len(sites)
    species = choose_species(sites.stretch, sites.wires_here > 0, random)
    planted = _planting_year(sites, ground, random)
    dbh = diameter_cm((THIS_YEAR + 1 - planted).astype(float), species, random)
    height = height_m(dbh, species, random)
    crown = crown_diameter_m(height, species, random)
    measured = random.uniform(size=count) < 0.4
    mix = species_mix()
    return gpd.GeoDataFrame(
        {
            "tree_id": tree_ids(np.arange(1, count + 1)),
            "species": mix["species"].to_numpy(object)[species],
            "common_name": mix["common_name"].to_numpy(object)[species],
            "dbh_cm": dbh,
            "height_m": np.where(measured, height, np.nan),
            "crown_diameter_m": np.where(measured, crown, np.nan),
            "condition": _condition(dbh, mix["mature_dbh_cm"].to_numpy(float)[species], random),
            "status": np.full(count, "standing", dtype=object),
            "planted_on": _planting_day(planted, random),
            "conductors": _conductors(sites.wires_here, random),
            "site_width_m": sites.width_m,
            "target": _target(sites, random),
            "fund": np.where(sites.park != "", "parks", "").astype(object),
            "street": np.where(sites.park != "", sites.park, sites.street),
            "address": np.where(sites.park != "", sites.park, sites.address),
            "planted_year": planted,
        },
        geometry=gpd.points_from_xy(np.round(sites.x, 2), np.round(sites.y, 2)),
        crs=CRS,
    )


def tree_ids(numbers: Integers) -> Texts:
    """Write tree numbers as the city does: ``Q0000123``."""
    result: Texts = np.char.add("Q", np.char.zfill(numbers.astype(str), 7)).astype(object)
    return result


def _planting_year(sites: Sites, ground: Ground, random: Random) -> Integers:
    """Older planting in the middle; every other tree has been replaced since."""
    count = len(sites)
    _, block = np.unique(sites.stretch, return_inverse=True)
    scheme = random.normal(0, 9, int(block.max()) + 1)[block]
    remote = ground.remoteness(sites.x, sites.y)
    first = 1946 + 42 * remote + scheme + random.normal(0, 2, count)
    recent = THIS_YEAR - random.exponential(13, count)
    replaced = random.uniform(size=count) < 0.5
    year = np.where(replaced, np.maximum(recent, first), first)
    return np.clip(np.floor(year), FIRST_PLANTING, THIS_YEAR).astype(np.int64)


def _planting_day(year: Integers, random: Random) -> pd.Series:
    spring = random.uniform(size=len(year)) < 0.55
    start = np.where(spring, 74, 288)  # from mid-March, or from mid-October
    day = pd.to_datetime(year.astype(str)) + pd.to_timedelta(
        start + random.integers(0, 45, len(year)), unit="D"
    )
    known = (year >= RECORDS_SINCE) & (random.uniform(size=len(year)) < 0.9)
    return pd.Series(day.as_unit("ms")).where(known)


def _condition(dbh: Floats, mature_dbh: Floats, random: Random) -> Texts:
    draw = random.uniform(size=len(dbh)) + 0.22 * np.clip(dbh / mature_dbh, 0, 1.2)
    words = np.array(["good", "fair", "poor", "dead"], dtype=object)
    result: Texts = words[np.searchsorted([0.66, 1.02, 1.17], draw)]
    result[random.uniform(size=len(dbh)) < 0.02] = "unknown"
    return result


def _conductors(wires: Integers, random: Random) -> Texts:
    words = np.array(["none", "low_voltage", "high_voltage"], dtype=object)
    result: Texts = words[wires]
    result[random.uniform(size=len(wires)) < 0.02] = "unknown"
    return result


def _target(sites: Sites, random: Random) -> Texts:
    """Say what stands below: the street or the footway, but pupils near a school."""
    count = len(sites)
    target = np.where(random.uniform(size=count) < 0.55, "street", "footway").astype(object)
    in_park = sites.park != ""
    playing = random.uniform(size=count) < 0.12
    target[in_park] = np.where(playing[in_park], "playground", "park")
    schools = random.choice(count, max(2, count // TREES_PER_SCHOOL), replace=False)
    target[_near(sites, schools)] = "school"
    return target


def _near(sites: Sites, centres: Integers) -> Integers:
    points = np.column_stack([sites.x, sites.y])
    found = cKDTree(points).query_ball_point(points[centres], SCHOOL_METRES)
    return np.unique(np.concatenate([np.asarray(rows, dtype=np.int64) for rows in found]))
