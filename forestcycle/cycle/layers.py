"""The layers and tables of ``plan.gpkg``."""

import pandas as pd

from forestcycle.cycle.assess import all_set_aside, work_items
from forestcycle.cycle.crew_days import crew_days_layer
from forestcycle.cycle.legs import depot_names, legs_layer
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.stops import stops_layer
from forestcycle.cycle.summary import versions
from forestcycle.cycle.tree_layer import trees_layer
from forestcycle.inventory.layout import LAYOUT, PLAN_LAYOUT
from forestcycle.schedule import price_rows, round_trip_rows, route_evidence


def plan_layers(outcome: Outcome) -> dict[str, pd.DataFrame]:
    """Layers and tables of ``plan.gpkg``, by name.

    Parameters
    ----------
    outcome : Outcome

    Returns
    -------
    dict of str to DataFrame or GeoDataFrame
    """
    inventory = outcome.city.inventory
    stops, legs = stops_layer(outcome), legs_layer(outcome)
    work = work_items(outcome.assessment)
    depots = depot_names(outcome.city, outcome.travel)
    backdrop = {
        "streets": inventory.streets,
        "wards": inventory.wards,
        "depots": inventory.depots,
        "parks": inventory.parks,
    }
    return {
        "trees": trees_layer(outcome),
        "stops": stops,
        "crew_days": crew_days_layer(outcome, stops, legs),
        "legs": legs,
        **{name: layer for name, layer in backdrop.items() if layer is not None},
        "work": work[work["tree_id"].isin(stops["tree_id"])],
        "set_aside": all_set_aside(outcome.city, outcome.assessment),
        "prices": price_rows(outcome.problem, outcome.plan, outcome.crew_day_names.tolist()),
        "round_trips": round_trip_rows(outcome.problem, outcome.plan, depots),
        **route_evidence(
            outcome.problem,
            outcome.plan,
            outcome.crew_day_names.tolist(),
            inventory.trees["tree_id"].tolist(),
            depots,
        ),
        "run": _run(outcome),
    }


def _run(outcome: Outcome) -> pd.DataFrame:
    settings, plan = outcome.city.settings, outcome.plan
    facts = {
        LAYOUT: str(PLAN_LAYOUT),
        "settings": settings.model_dump_json(),
        "input_sha256": outcome.city.inventory.sha256,
        "travel": outcome.travel.kind,
        "worth": repr(plan.worth),
        "bound": repr(plan.bound.value if plan.bound else float("inf")),
        "seed": str(plan.seed),
        "rounds": str(plan.rounds),
        **{f"version of {name}": number for name, number in versions().items()},
    }
    return pd.DataFrame({"key": list(facts), "value": list(facts.values())})
