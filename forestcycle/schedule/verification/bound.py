"""The stated bound: its prices prove it, and the worth keeps it."""

import numpy as np

from forestcycle.errors import Fault
from forestcycle.schedule.verification.files import NOT_PLANNABLE, PlanFiles
from forestcycle.schedule.verification.proof import bound_of_prices
from forestcycle.schedule.verification.route_proof import bound_of_routes

RELATIVE = 1e-6


def check_bound(plan: PlanFiles) -> list[Fault]:
    """Check that the stated bound is what its prices prove and exceeds the worth.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stated, worth = float(plan.facts["bound"]), float(plan.facts["worth"])
    if not np.isfinite(stated):
        return []
    unusable = _unusable(plan)
    if unusable:
        return unusable
    proven = min(bound_of_prices(plan), bound_of_routes(plan))
    faults = []
    if proven > stated + RELATIVE * abs(stated):
        faults.append(
            Fault(f"{stated:,.3f} is stated, the prices prove only {proven:,.3f}", "run: bound")
        )
    if worth > min(proven, stated) * (1 + RELATIVE):
        faults.append(
            Fault(f"the worth {worth:,.3f} exceeds the bound {proven:,.3f}", "run: worth")
        )
    return faults


def _unusable(plan: PlanFiles) -> list[Fault]:
    """Name what keeps the prices from proving anything."""
    prices, ways = plan.tables["prices"], plan.tables["round_trips"]
    days = plan.crew_days[~plan.crew_days["use"].isin(NOT_PLANNABLE)]
    days = days[days["date"] >= plan.revised_from]
    crews = {crew.name for crew in plan.settings.crews}
    ahead = ~plan.made.to_numpy(np.bool_)
    place, depot = plan.tree_of_stop("place")[ahead], plan.crew_day_of_stop("depot")[ahead]
    at_stops = set(zip(place, depot, strict=True))
    known_ways = set(zip(ways["place"], ways["depot"], strict=True))
    wrong = {
        "prices: a price is below zero": (prices["price"] < 0).any(),
        "prices: a price stands there twice": prices.duplicated(["kind", "key"]).any(),
        "round_trips: a way stands there twice": ways.duplicated(["place", "depot"]).any(),
        "round_trips: minutes are missing": ways.isna().any(axis=None),
        "round_trips: the way to a stop is missing": not known_ways >= at_stops,
        "crew_days: a crew is not of the settings": not days["crew"].isin(crews).all(),
        "crew_days: a depot has no ways": not days["depot"].isin(ways["depot"]).all(),
    }
    return [
        Fault(f"{what}: nothing is proven", where)
        for (where, what), holds in ((words.split(": "), holds) for words, holds in wrong.items())
        if holds
    ]
