"""Five years of visits, and the residents' requests."""

import geopandas as gpd
import numpy as np
import pandas as pd

from sample_city.ground import Floats, Random, Truths

FIRST_YEAR = 2022
LAST_YEAR = 2026
SHARE_A_YEAR = 0.10
LONG_AGO = 2022
CREWS = ("Ground crew", "Climbing crew", "Line crew")


def make_visits(trees: gpd.GeoDataFrame, random: Random) -> pd.DataFrame:
    """Visit about a tenth of the trees every year.

    Parameters
    ----------
    trees : GeoDataFrame
    random : Generator

    Returns
    -------
    DataFrame
        ``tree_id visited_on dose crew minutes outcome note``, oldest first.
    """
    years = [_visits_of(trees, year, random) for year in range(FIRST_YEAR, LAST_YEAR + 1)]
    visits = pd.concat(years, ignore_index=True)
    return visits.sort_values(["visited_on", "tree_id"], ignore_index=True)


def _visits_of(trees: gpd.GeoDataFrame, year: int, random: Random) -> pd.DataFrame:
    there = np.flatnonzero(trees["planted_year"].to_numpy() < year)
    rows = there[random.uniform(size=len(there)) < SHARE_A_YEAR]
    dbh = trees["dbh_cm"].to_numpy()[rows]
    count = len(rows)
    workdays = pd.bdate_range(f"{year}-01-10", f"{year}-12-10")
    outcome = random.choice(["done", "partly done", "skipped"], count, p=[0.9, 0.06, 0.04])
    dose = np.clip(random.normal(np.where(dbh < 30, 0.14, 0.09), 0.04), 0.02, 0.25).round(2)
    dose[outcome == "partly done"] = (dose[outcome == "partly done"] / 2).round(2)
    dose[outcome == "skipped"] = 0.0
    return pd.DataFrame(
        {
            "tree_id": trees["tree_id"].to_numpy(object)[rows],
            "visited_on": workdays.to_numpy()[random.integers(0, len(workdays), count)],
            "dose": dose,
            "crew": np.array(CREWS, dtype=object)[np.searchsorted([15.0, 45.0], dbh)],
            "minutes": np.where(outcome == "skipped", 5.0, _minutes(dbh, random)),
            "outcome": outcome.astype(object),
            "note": np.where(outcome == "skipped", "vehicle in the way", "").astype(object),
        }
    )


def _minutes(dbh: Floats, random: Random) -> Floats:
    usual = 6 + 1.2 * np.minimum(dbh, 60)
    result: Floats = np.round(usual * np.exp(random.normal(0, 0.25, len(dbh))), 0)
    return result


def make_requests(trees: gpd.GeoDataFrame, visits: pd.DataFrame, random: Random) -> pd.DataFrame:
    """Let about one tree in a hundred be asked for; a few must be seen to by a date.

    No date is promised for a tree that was planted of late or has a visit on
    record: it must first grow again.

    Parameters
    ----------
    trees : GeoDataFrame
    visits : DataFrame
    random : Generator

    Returns
    -------
    DataFrame
        ``tree_id requested_on deadline mandatory note``.
    """
    rows = np.sort(random.choice(len(trees), max(8, len(trees) // 100), replace=False))
    count = len(rows)
    mandatory = random.uniform(size=count) < 0.2
    near_school = trees["target"].to_numpy(object)[rows] == "school"
    mandatory |= near_school & (random.uniform(size=count) < 0.5)
    mandatory &= _long_untouched(trees, visits)[rows]
    deadline = pd.Timestamp("2027-06-30") + pd.to_timedelta(random.integers(0, 150, count), "D")
    asked = pd.Timestamp("2026-06-01") + pd.to_timedelta(random.integers(0, 200, count), "D")
    words = np.array(
        [
            "Low branch over the footway",
            "Two trunks, please look at the fork",
            "Branches rub in wind",
            "Blocks the street lamp",
            "Grown into the neighbour's tree",
        ],
        dtype=object,
    )
    return pd.DataFrame(
        {
            "tree_id": trees["tree_id"].to_numpy(object)[rows],
            "requested_on": asked,
            "deadline": pd.Series(deadline).where(mandatory),
            "mandatory": mandatory,
            "note": words[random.integers(0, len(words), count)],
        }
    )


def _long_untouched(trees: gpd.GeoDataFrame, visits: pd.DataFrame) -> Truths:
    visited = trees["tree_id"].isin(visits["tree_id"]).to_numpy()
    planted_late = trees["planted_year"].to_numpy() > LONG_AGO
    untouched: Truths = ~visited & ~planted_late
    return untouched
