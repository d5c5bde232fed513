"""The stated bound: its prices prove it, and the worth keeps it."""

import numpy as np

from forestcycle.errors import Fault
from forestcycle.schedule.verification.files import PlanFiles
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
    prices = plan.tables["prices"]
    if (prices["price"] < 0).any():
        return [Fault("a price is below zero: it proves nothing", "prices")]
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
