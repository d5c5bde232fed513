"""Defects as inspectors wrote them down: invented shares, measures of the trade."""

from importlib.resources import files

import geopandas as gpd
import numpy as np
import pandas as pd

from sample_city.ground import Floats, Integers, Random, Texts

SHARE_OBSERVED = 1 / 3
SHARE_WITH_SECOND = 0.3
SMALL_DBH_CM = 20.0


def defect_mix() -> pd.DataFrame:
    """Read which defects are seen how often and how they are measured.

    Returns
    -------
    DataFrame
        One row per defect; the shares are weights among small and large
        trees, ``low`` and ``high`` the span of the measured values.
    """
    with files("sample_city").joinpath("defects.csv").open(encoding="utf-8") as table:
        return pd.read_csv(table, keep_default_na=False)


def make_defects(trees: gpd.GeoDataFrame, random: Random) -> pd.DataFrame:
    """Inspect a third of the trees and write down one or two defects on each.

    Parameters
    ----------
    trees : GeoDataFrame
    random : Generator

    Returns
    -------
    DataFrame
        ``tree_id observed_on defect measure value unit position note``.
    """
    seen = np.flatnonzero(random.uniform(size=len(trees)) < SHARE_OBSERVED)
    again = seen[random.uniform(size=len(seen)) < SHARE_WITH_SECOND]
    rows = np.concatenate([seen, again])
    mix = defect_mix()
    small = trees["dbh_cm"].to_numpy()[rows] < SMALL_DBH_CM
    defect = np.where(
        small, _draw(mix["share_small"], rows, random), _draw(mix["share_large"], rows, random)
    )
    count = len(rows)
    table = pd.DataFrame(
        {
            "tree_id": trees["tree_id"].to_numpy(object)[rows],
            "observed_on": _observation_days(trees["planted_year"].to_numpy()[rows], random),
            "defect": mix["defect"].to_numpy(object)[defect],
            "measure": mix["measure"].to_numpy(object)[defect],
            "value": _measured(mix.iloc[defect], random),
            "unit": mix["unit"].to_numpy(object)[defect],
            "position": _positions(mix["positions"], random, defect),
            "note": np.full(count, "", dtype=object),
        }
    )
    table = table.drop_duplicates(["tree_id", "defect"])
    return table.sort_values(["observed_on", "tree_id", "defect"], ignore_index=True)


def _draw(share: pd.Series, rows: Integers, random: Random) -> Integers:
    weight = share.to_numpy(float)
    drawn: Integers = random.choice(len(weight), len(rows), p=weight / weight.sum())
    return drawn


def _observation_days(planted_year: Integers, random: Random) -> pd.DatetimeIndex:
    """Draw days of the last three years, but none before the tree stood."""
    year = np.maximum(random.integers(2024, 2027, len(planted_year)), planted_year + 1)
    day = pd.to_datetime(np.minimum(year, 2026).astype(str))
    in_leaf = 150 + random.integers(0, 120, len(day))
    return (day + pd.to_timedelta(in_leaf, unit="D")).as_unit("ms")


def _measured(mix: pd.DataFrame, random: Random) -> Floats:
    """Draw values; most are nearer to the mild end of their span, low clearances apart."""
    low, high = mix["low"].to_numpy(float), mix["high"].to_numpy(float)
    value = low + (high - low) * random.beta(1.4, 2.2, len(mix))
    counted = (mix["unit"] == "count").to_numpy()
    result: Floats = np.where(counted, np.round(value), np.round(value, 2))
    return result


def _positions(positions: pd.Series, random: Random, defect: Integers) -> Texts:
    result = np.empty(len(defect), dtype=object)
    for number, words in enumerate(positions):
        rows = np.flatnonzero(defect == number)
        result[rows] = random.choice(np.array(words.split(";"), dtype=object), len(rows))
    return result
