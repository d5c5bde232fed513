"""Where nine draws in ten lie: tables by year, by ward, and of what all years come to."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forestcycle.outlook.answers import BEST, CALENDAR, comes_to
from forestcycle.outlook.solve import HorizonPlan
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.uncertainty import (
    FIGURES,
    SHARES_OF_TREES,
    Played,
    ward_shares,
    yearly_figures,
)

LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95


@dataclass(frozen=True)
class Intervals:
    """Tables of the best visits: ``expected`` is without draws, 90 % of them ``low`` to ``high``.

    Attributes
    ----------
    years : DataFrame
        ``budget choice year figure expected low middle high``, figures as in ``FIGURES``.
    wards : DataFrame
        The same by ``ward``, figures as in ``SHARES_OF_TREES``.
    summary : DataFrame
        ``budget choice figure expected low middle high never draws``, figures as in
        :func:`forestcycle.outlook.answers.comes_to`. ``never`` counts the draws in which a
        year does not come within the years shown: they count as later than all others, and a
        bound among them is empty.
    """

    years: pd.DataFrame
    wards: pd.DataFrame
    summary: pd.DataFrame


def intervals(
    plans: Sequence[HorizonPlan], drawn: Sequence[Sequence[Played]], *, first_year: int
) -> Intervals:
    """Put draws into intervals.

    Parameters
    ----------
    plans : sequence of HorizonPlan
        Whose draws come first in each draw.
    drawn : sequence of sequence of Played
        Per draw and plan, one draw or more.
    first_year : int
        Calendar year of the first one.

    Returns
    -------
    Intervals
    """
    own = [[draw[place] for draw in drawn] for place in range(len(plans))]
    pairs = list(zip(plans, own, strict=True))
    return Intervals(
        years=pd.concat([_years(*pair, first_year) for pair in pairs], ignore_index=True),
        wards=pd.concat([_wards(*pair, first_year) for pair in pairs], ignore_index=True),
        summary=pd.concat([_summary(*pair, first_year) for pair in pairs], ignore_index=True),
    )


def _years(plan: HorizonPlan, played: Sequence[Played], first_year: int) -> pd.DataFrame:
    expected = yearly_figures(plan.trajectory)
    year, figure = (axis.ravel() for axis in np.indices(expected.shape))
    keys = {"year": first_year + year, "figure": np.array(FIGURES)[figure]}
    return _table(plan, keys, expected, [np.array(draw["years"]) for draw in played])


def _wards(plan: HorizonPlan, played: Sequence[Played], first_year: int) -> pd.DataFrame:
    expected = ward_shares(plan.trajectory)
    figure, year, ward = (axis.ravel() for axis in np.indices(expected.shape))
    keys = {
        "ward": np.array(plan.trajectory.wards)[ward],
        "year": first_year + year,
        "figure": np.array(list(SHARES_OF_TREES))[figure],
    }
    return _table(plan, keys, expected, [np.array(draw["wards"]) for draw in played])


def _table(
    plan: HorizonPlan,
    keys: dict[str, np.ndarray[tuple[int], np.dtype[np.generic]]],
    expected: FloatArray,
    drawn: Sequence[FloatArray],
) -> pd.DataFrame:
    low, middle, high = np.quantile(np.stack(drawn), (LOW, MIDDLE, HIGH), axis=0)
    return pd.DataFrame(
        {
            "budget": plan.budget.name,
            "choice": BEST,
            **keys,
            "expected": expected.ravel(),
            "low": low.ravel(),
            "middle": middle.ravel(),
            "high": high.ravel(),
        }
    )


def _summary(plan: HorizonPlan, played: Sequence[Played], first_year: int) -> pd.DataFrame:
    drawn, years = np.array([draw["come_to"] for draw in played]), plan.trajectory.years
    rows = []
    for place, (figure, expected) in enumerate(comes_to(plan.trajectory).items()):
        calendar, own = figure in CALENDAR, drawn[:, place]
        between = np.quantile(own, (LOW, MIDDLE, HIGH))
        if calendar:  # a year that some draw has
            between = np.quantile(own, (LOW, MIDDLE, HIGH), method="inverted_cdf")
        values = np.append(expected, between)
        if calendar:
            values = np.where(values > years, np.nan, first_year - 1 + values)
        never = int((own > years).sum()) if calendar else 0
        rows.append((plan.budget.name, BEST, figure, *values, never, len(played)))
    columns = "budget choice figure expected low middle high never draws"
    return pd.DataFrame(rows, columns=columns.split())
