"""Plan against actual: by what factor do real minutes and doses differ from planned ones.

The factor of a group is the least-absolute-deviations fit of
``log(actual) = log(planned) + log(factor)``, which is the median of the log
ratios: half of all returns could be wild and it would not follow them. Its
interval is a percentile bootstrap (Efron and Tibshirani 1993, *An
Introduction to the Bootstrap*, chapter 13) over returns with a fixed seed;
it takes the returns to be independent of each other.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

LEAST_RETURNS = 30
RESAMPLES = 1000
EVERYONE = "all"
ENOUGH, TOO_FEW = "enough", f"too few (under {LEAST_RETURNS})"


def calibration_table(visits: pd.DataFrame, *, seed: int = 1) -> pd.DataFrame:
    """Compare plan and actual by crew and age class.

    Parameters
    ----------
    visits : DataFrame
        ``crew age_class outcome minutes dose planned_minutes planned_dose``.
        Only visits that are done count.
    seed : int
        Of the bootstrap.

    Returns
    -------
    DataFrame
        One row per measure (``minutes``, ``dose``), crew and age class, with
        ``all`` for every crew or class: ``measure crew age_class returns
        planned actual factor low high data``. ``planned`` and ``actual`` are
        sums; ``low`` and ``high`` bound the factor with 95 % confidence.
        Factor and bounds are NaN where there is too little data.
    """
    done = visits[visits["outcome"] == "done"]
    rows = []
    for measure in ("minutes", "dose"):
        usable = done[(done[measure] > 0) & (done[f"planned_{measure}"] > 0)]
        everyone = usable.assign(crew=EVERYONE)
        any_class = [table.assign(age_class=EVERYONE) for table in (usable, everyone)]
        groups = pd.concat([everyone, any_class[1], usable, any_class[0]])
        for (crew, age_class), group in groups.groupby(["crew", "age_class"], sort=True):
            planned, actual = group[f"planned_{measure}"], group[measure]
            fit = _factor(np.log((actual / planned).to_numpy(dtype=np.float64)), seed)
            data = ENOUGH if len(group) >= LEAST_RETURNS else TOO_FEW
            sums = (len(group), planned.sum(), actual.sum())
            rows.append((measure, str(crew), str(age_class), *sums, *fit, data))
    names = "measure crew age_class returns planned actual factor low high data"
    return pd.DataFrame(rows, columns=names.split())


def crews_apart(table: pd.DataFrame) -> pd.DataFrame:
    """Pick the crews whose minutes are surely not by the factor of all.

    Parameters
    ----------
    table : DataFrame
        From :func:`calibration_table`.

    Returns
    -------
    DataFrame
        Those rows of the table whose interval leaves out the factor of all crews.
    """
    minutes = table[(table["measure"] == "minutes") & (table["age_class"] == EVERYONE)]
    of_all = float(minutes.loc[minutes["crew"] == EVERYONE, "factor"].max())
    apart: pd.DataFrame = minutes[(minutes["low"] > of_all) | (minutes["high"] < of_all)]
    return apart


def _factor(log_ratio: NDArray[np.float64], seed: int) -> tuple[float, float, float]:
    if len(log_ratio) < LEAST_RETURNS:
        return np.nan, np.nan, np.nan
    from scipy.stats import bootstrap  # slow to load: only for those who calibrate

    interval = bootstrap(
        (log_ratio,),
        np.median,
        n_resamples=RESAMPLES,
        batch=50,
        method="percentile",
        rng=np.random.default_rng(seed),
    ).confidence_interval
    low, high = float(np.exp(interval.low)), float(np.exp(interval.high))
    return float(np.exp(np.median(log_ratio))), low, high
