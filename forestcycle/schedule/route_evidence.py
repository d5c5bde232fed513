"""What a plan's folder must hold so that a stranger can check a bound on sets of routes."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem


def route_evidence(
    problem: Problem,
    plan: Plan,
    crew_day_ids: Sequence[str],
    tree_ids: Sequence[str],
    depot_names: Mapping[int, str],
) -> dict[str, pd.DataFrame]:
    """Tables ``route_prices`` and ``ways``.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    crew_day_ids : (c,) str
        Name of each crew-day of the problem.
    tree_ids : sequence of str
        Of the inventory, in the order of its rows.
    depot_names : mapping of int to str
        By travel node.

    Returns
    -------
    dict of str to DataFrame
        ``route_prices`` has columns ``kind key price``: kinds ``tree`` by
        ``tree_id``, ``crew-day`` (the most that one of its routes gains at the
        other prices) by ``crew_day_id``, ``cent``, ``fund cent`` and
        ``ward minute`` by position in the settings, ``promised``. ``ways`` has
        ``from_node to_node minutes``: between places (by number) and depots (by
        name). Both empty where the bound does not rest on routes.
    """
    if plan.bound is None or plan.bound.routes is None:
        return {
            "route_prices": _empty(kind=str, key=str, price=float),
            "ways": _empty(from_node=str, to_node=str, minutes=float),
        }
    prices, groups = plan.bound.routes, plan.bound.groups
    names = np.asarray(tree_ids, dtype=object)[problem.tree]
    kinds = {
        "tree": (names, prices.tree),
        "crew-day": (
            np.asarray(crew_day_ids, dtype=object),
            prices.crew_day[groups.of_crew_day],
        ),
        "cent": ([""], [prices.cent]),
        "fund cent": (_positions(prices.fund_cent), prices.fund_cent),
        "ward minute": (_positions(prices.ward_minute), prices.ward_minute),
        "promised": ([""], [float(prices.promised)]),
    }
    rows = [
        pd.DataFrame({"kind": kind, "key": np.asarray(key, dtype=object), "price": price})
        for kind, (key, price) in kinds.items()
    ]
    return {
        "route_prices": pd.concat([part for part in rows if len(part)], ignore_index=True),
        "ways": _ways(problem, depot_names),
    }


def _empty(**columns: type) -> pd.DataFrame:
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in columns.items()})


def _positions(prices: NDArray[np.float64]) -> list[str]:
    return [str(position) for position in range(len(prices))]


def _ways(problem: Problem, depot_names: Mapping[int, str]) -> pd.DataFrame:
    places, depots = np.unique(problem.place), np.unique(problem.depot)
    nodes = np.concatenate([places, depots])
    depot_name = [depot_names[node] for node in depots.tolist()]
    names = np.array([*places.astype(str).tolist(), *depot_name], dtype=object)
    minutes = problem.travel.minutes(nodes, nodes)
    start, end = np.nonzero(np.isfinite(minutes) & ~np.eye(len(nodes), dtype=np.bool_))
    return pd.DataFrame(
        {"from_node": names[start], "to_node": names[end], "minutes": minutes[start, end]}
    )
