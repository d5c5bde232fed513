"""Layers of a revised plan."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pandas as pd

from forestcycle.cycle.in_force import TABLES
from forestcycle.cycle.layers import plan_layers
from forestcycle.cycle.legs import depot_names
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.revision_kinds import CAME, LEFT, MOVES
from forestcycle.cycle.revision_now import Now
from forestcycle.cycle.revision_report import RevisionReport
from forestcycle.cycle.revision_standing import crew_day_ids
from forestcycle.schedule import price_rows, round_trip_rows
from forestcycle.schedule.revise_bound import Rest

REVISE = "revise"
NOTHING = 0


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
        By name; ``changes`` comes from :func:`with_change`.
    """
    layers = plan_layers(replace(outcome, plan=replace(outcome.plan, bound=None)))
    days = layers["crew_days"]
    marked = np.isin(now.calendar.use.astype(str), ["lost", "emergency"])
    days.loc[marked, "use"] = now.calendar.use[marked]
    ids = np.array(crew_day_ids(now.city, outcome.problem), dtype=object)
    layers["prices"] = price_rows(rest.problem, outcome.plan, ids[rest.crew_days].tolist())
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


def with_change(now: Now, report: RevisionReport) -> tuple[int, pd.DataFrame]:
    """Append this revision to the plan's changes.

    Parameters
    ----------
    now : Now
    report : RevisionReport

    Returns
    -------
    number : int
        Of this change, from 1.
    table : DataFrame
        Table ``changes``, this one last.
    """
    known = now.plan.changes
    number = int(known["change"].max()) + 1 if len(known) else 1
    row = pd.DataFrame(
        {
            "change": [number],
            "at": [datetime.now(UTC).isoformat(timespec="seconds")],
            "command": [REVISE],
            "from_day": [report.from_day],
            "facts": [report.facts],
            "input_sha256": [now.city.inventory.sha256],
            "moved": [sum(report.counts[kind] for kind in MOVES)],
            "left": [report.counts[LEFT]],
            "came": [report.counts[CAME]],
            "undoes": [NOTHING],
        }
    ).astype(dict(TABLES["changes"]))
    table = pd.concat([known, row], ignore_index=True) if len(known) else row
    return number, table
