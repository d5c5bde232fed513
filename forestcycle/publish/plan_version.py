"""A short mark that tells one plan from the next."""

from hashlib import sha256

import pandas as pd

from forestcycle.publish.plan_folder import PlanFolder

MARK_LENGTH = 8


def plan_version(plan: PlanFolder) -> str:
    """Derive the mark that stands on every paper of a plan.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    str
        Eight hexadecimal digits, of the stops in their order and what the run was given: a plan
        that sends a crew elsewhere has another mark, the same plan published again the same.
    """
    columns = ["crew_day_id", "stop_order", "tree_id", "dose"]
    stops = pd.util.hash_pandas_object(
        plan.stops[columns].astype({"crew_day_id": str, "tree_id": str}), index=False
    )
    digest = sha256(stops.to_numpy().tobytes())
    digest.update(repr(sorted(plan.run.items())).encode())
    return digest.hexdigest()[:MARK_LENGTH]
