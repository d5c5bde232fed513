"""Layers of a revised plan."""

from dataclasses import replace

import numpy as np
import pandas as pd

from forestcycle.cycle.layers import plan_layers
from forestcycle.cycle.legs import depot_names
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.revision_now import Now
from forestcycle.schedule import price_rows, round_trip_rows
from forestcycle.schedule.revise_bound import Rest


def revised_layers(now: Now, outcome: Outcome, rest: Rest) -> dict[str, pd.DataFrame]:
    """Layers of the revised plan; the bound's tables are of what is still open.

    Parameters
    ----------
    now : Now
    outcome : Outcome
    rest : Rest

    Returns
    -------
    dict of str to DataFrame
        By name; ``changes`` comes from :mod:`forestcycle.cycle.revision_log`.
    """
    layers = plan_layers(replace(outcome, plan=replace(outcome.plan, bound=None)))
    days = layers["crew_days"]
    marked = np.isin(now.calendar.use.astype(str), ["lost", "emergency"])
    days.loc[marked, "use"] = now.calendar.use[marked]
    ids = outcome.crew_day_names[rest.crew_days].tolist()
    layers["prices"] = price_rows(rest.problem, outcome.plan, ids)
    depots = depot_names(outcome.city, outcome.travel)
    layers["round_trips"] = round_trip_rows(rest.problem, outcome.plan, depots)
    bound = outcome.plan.bound
    told = {
        "bound": repr(bound.value if bound else float("inf")),
        "revised_from": str(now.facts.from_day),
    }
    run = layers["run"][~layers["run"]["key"].isin(told)]
    added = pd.DataFrame({"key": list(told), "value": list(told.values())})
    layers["run"] = pd.concat([run, added], ignore_index=True)
    return layers | {"lost_days": now.lost, "done": now.done}
