"""What a plan's folder must hold so that a stranger can compute the bound again."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.relaxation import relax


def price_rows(problem: Problem, plan: Plan, crew_day_ids: Sequence[str]) -> pd.DataFrame:
    """Prices behind the bound, as a table.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    crew_day_ids : (c,) str
        Name of each crew-day of the problem.

    Returns
    -------
    DataFrame
        Columns ``kind key price``. Kinds: ``minute`` and ``stop minute`` per
        crew-day, ``home minutes`` (minutes that the stop row keeps for the
        depot) and ``group`` (number of the group of like crew-days) per
        crew-day, ``cent``, ``fund cent`` by position in
        ``budget.fund_cents``, ``ward minute`` by position in
        ``plan.ward_least_share``, ``promised`` (1 or 0). Empty without a bound.
    """
    if plan.bound is None:
        return pd.DataFrame(
            {"kind": pd.Series(dtype=str), "key": pd.Series(dtype=str), "price": []}
        )
    prices, groups = plan.bound.prices, plan.bound.groups
    home = relax(problem, groups).home_travel
    of_day = groups.of_crew_day
    ids = np.asarray(crew_day_ids, dtype=object)
    kinds = {
        "minute": (ids, prices.minute[of_day]),
        "stop minute": (ids, prices.stop_minute[of_day]),
        "home minutes": (ids, home[of_day]),
        "group": (ids, of_day.astype(np.float64)),
        "cent": (np.array([""], dtype=object), np.array([prices.cent])),
        "fund cent": (_positions(len(prices.fund_cent)), prices.fund_cent),
        "ward minute": (_positions(len(prices.ward_minute)), prices.ward_minute),
        "promised": (np.array([""], dtype=object), np.array([float(prices.promised)])),
    }
    return pd.concat(
        [
            pd.DataFrame({"kind": kind, "key": key, "price": price})
            for kind, (key, price) in kinds.items()
        ],
        ignore_index=True,
    )


def round_trip_rows(problem: Problem, plan: Plan, depot_names: Mapping[int, str]) -> pd.DataFrame:
    """Minutes between depots and places that the bound rests on.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    depot_names : mapping of int to str
        By travel node.

    Returns
    -------
    DataFrame
        Columns ``place depot minutes out_minutes stop_minutes``: there and
        back, there alone, and the least travel that a visit to the place adds
        to the stop row. Empty without a bound.
    """
    if plan.bound is None:
        return pd.DataFrame(
            {
                "place": [],
                "depot": pd.Series(dtype=str),
                "minutes": [],
                "out_minutes": [],
                "stop_minutes": [],
            }
        )
    trees = relax(problem, plan.bound.groups)
    nodes = np.unique(problem.depot)
    names = np.array([depot_names[node] for node in nodes.tolist()], dtype=object)
    places = problem.place[trees.tree][trees.first[:-1]]
    round_trip = trees.out + trees.back
    return pd.DataFrame(
        {
            "place": np.tile(places, len(nodes)),
            "depot": np.repeat(names, len(places)),
            "minutes": round_trip.reshape(-1),
            "out_minutes": trees.out.reshape(-1),
            "stop_minutes": np.tile(trees.stop_travel, len(nodes)),
        }
    )


def _positions(count: int) -> NDArray[np.object_]:
    return np.arange(count).astype(str).astype(object)
