"""Plan a city's year and write it down."""

import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from forestcycle.cycle.assess import all_set_aside, assess_city, work_items
from forestcycle.cycle.city import City
from forestcycle.cycle.crew_days import crew_days_layer
from forestcycle.cycle.folder import replacing_folder
from forestcycle.cycle.legs import depot_names, legs_layer
from forestcycle.cycle.named import check_wards, unknown_funds
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.stops import stops_layer
from forestcycle.cycle.summary import Summary, versions
from forestcycle.cycle.tree_layer import trees_layer
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.store import write_layers
from forestcycle.practice import Assessment, sensitivity
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish import publish
from forestcycle.schedule import (
    build_problem,
    crew_calendar,
    price_rows,
    reasons,
    round_trip_rows,
    solve,
    timetable,
    verify,
)
from forestcycle.travel import build_travel


def plan_city(
    city: City,
    out: Path | str,
    *,
    time_limit: float = 60.0,
    rounds: int | None = None,
    seed: int = 1,
    progress: Progress = silent,
) -> Summary:
    """Assess, pack, verify, write and publish the year's crew-days.

    Parameters
    ----------
    city : City
    out : Path or str
        Folder for the plan; an older plan there is replaced as a whole.
    time_limit : float
        Seconds of packing.
    rounds : int, optional
        Limit the work instead; the plan then depends on input and seed alone.
    seed : int
        Of the search.
    progress : Progress, optional

    Returns
    -------
    Summary
        As written to ``summary.json``.

    Raises
    ------
    PlanError
        If no plan exists under the settings.
    StoreError
        If the folder cannot be written to; an older plan is then as it was.
    """
    started = time.monotonic()
    with replacing_folder(Path(out)) as folder:
        progress(Step("assessing trees"))
        assessment = assess_city(city, progress=progress)
        outcome = pack_year(
            city, assessment, time_limit=time_limit, rounds=rounds, seed=seed, progress=progress
        )
        summary = write_plan(outcome, folder, progress=progress)
        publish(folder, progress=progress)
        summary = replace(summary, seconds=round(time.monotonic() - started, 1))
        write_text_atomically(folder / "summary.json", summary.to_json())
    return summary


def write_plan(outcome: Outcome, folder: Path, *, progress: Progress = silent) -> Summary:
    """Write ``plan.gpkg`` and ``summary.json``, and have the verifier read them.

    Parameters
    ----------
    outcome : Outcome
    folder : Path
        Is there already.
    progress : Progress, optional

    Returns
    -------
    Summary
        As written; ``seconds`` are those of the packing.
    """
    progress(Step("writing the plan"))
    layers = plan_layers(outcome)
    write_layers(folder / "plan.gpkg", layers)
    summary = _summary(outcome, layers)
    write_text_atomically(folder / "summary.json", summary.to_json())
    progress(Step("verifying the plan"))
    verification = verify(folder)
    summary = replace(
        summary,
        verified=verification.ok,
        verification_faults=[str(fault) for fault in verification.faults],
    )
    write_text_atomically(folder / "summary.json", summary.to_json())
    return summary


def pack_year(
    city: City,
    assessment: Assessment,
    *,
    time_limit: float = 60.0,
    rounds: int | None = None,
    seed: int = 1,
    progress: Progress = silent,
) -> Outcome:
    """Pack the year's crew-days without writing anything.

    Parameters
    ----------
    city : City
    assessment : Assessment
    time_limit, rounds, seed, progress
        As for :func:`plan_city`.

    Returns
    -------
    Outcome
    """
    settings, inventory = city.settings, city.inventory
    check_wards(city)
    progress(Step("travel times"))
    trees, depots = inventory.trees.geometry, inventory.depots
    depot_x = trees.x.mean() if depots is None else depots.geometry.x
    depot_y = trees.y.mean() if depots is None else depots.geometry.y
    travel, place_of_tree = build_travel(
        trees.x.to_numpy(),
        trees.y.to_numpy(),
        np.atleast_1d(depot_x),
        np.atleast_1d(depot_y),
        inventory.streets,
        settings.travel,
    )
    problem, ineligible = build_problem(inventory, assessment, settings, travel, place_of_tree)
    limit = {"seconds": time_limit} if rounds is None else {"rounds": rounds}
    names = inventory.trees["tree_id"].tolist()
    plan = solve(problem, seed=seed, tree_ids=names, progress=progress, **limit)
    reason, reason_text = reasons(problem, plan, ineligible, inventory, assessment)
    return Outcome(
        city=city,
        assessment=assessment,
        travel=travel,
        calendar=crew_calendar(settings),
        problem=problem,
        plan=plan,
        timetable=timetable(problem, plan),
        reason=reason,
        reason_text=reason_text,
    )


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
        "round_trips": round_trip_rows(
            outcome.problem, outcome.plan, depot_names(outcome).tolist()
        ),
        "run": _run(outcome),
    }


def _run(outcome: Outcome) -> pd.DataFrame:
    settings, plan = outcome.city.settings, outcome.plan
    facts = {
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


def _summary(outcome: Outcome, layers: dict[str, pd.DataFrame]) -> Summary:
    settings, inventory, plan = outcome.city.settings, outcome.city.inventory, outcome.plan
    crew_days = layers["crew_days"]
    left_out = outcome.reason[outcome.reason != ""]
    bound = plan.bound
    return Summary(
        city=settings.city.name,
        year_start=str(settings.city.year_start),
        year_end=str(settings.city.year_end),
        currency=settings.city.currency,
        trees_in_inventory=inventory.rows_read,
        trees_usable=len(inventory.trees),
        trees_set_aside=inventory.rows_read - len(inventory.trees),
        trees_eligible=outcome.problem.trees,
        trees_planned=len(plan.tree),
        trees_mandatory=int(outcome.problem.mandatory.sum()),
        crew_days_available=outcome.problem.crew_days,
        crew_days_storm_reserve=int(outcome.calendar.storm_reserve.sum()),
        crew_days_used=len(np.unique(plan.crew_day)),
        worth=plan.worth,
        bound=bound.value if bound else float("inf"),
        gap=plan.gap or 0.0,
        certified=bool(bound and bound.certified),
        minutes_service=float(crew_days["service_minutes"].sum()),
        minutes_travel=float(crew_days["travel_minutes"].sum()),
        cost_cents=int(crew_days["cost_cents"].sum()),
        budget_cents=settings.budget.year_cents,
        unplanned_reasons=dict(Counter(left_out.tolist()).most_common()),
        sensitivity=_sensitivity(outcome),
        travel=outcome.travel.kind,
        notes=_notes(outcome),
        verified=False,
        verification_faults=[],
        interrupted=plan.interrupted,
        rounds=plan.rounds,
        seconds=round(plan.seconds, 1),
        seed=plan.seed,
        input_sha256=inventory.sha256,
        versions=versions(),
    )


def _sensitivity(outcome: Outcome) -> dict[str, float]:
    """Largest share of the plan's minutes that a weight moved by a fifth would change."""
    chosen = np.zeros(len(outcome.assessment.trees), dtype=np.bool_)
    chosen[outcome.stop_row] = True
    moved = sensitivity(outcome.assessment.trees, chosen)
    largest = moved.groupby("weight", sort=False)["share_changed"].max()
    return {str(weight): round(float(share), 4) for weight, share in largest.items()}


def _notes(outcome: Outcome) -> list[str]:
    notes = []
    if outcome.travel.kind == "distance":
        factor = outcome.city.settings.travel.detour_factor
        notes.append(f"travel is air distance times {factor:g}, not along streets")
    if outcome.city.inventory.depots is None:
        notes.append("no depots layer: crews start from the middle of all trees")
    notes += [str(fault) for fault in (*outcome.travel.notes, *unknown_funds(outcome.city))]
    priors = int(outcome.assessment.trees["defects_are_prior"].sum())
    if priors:
        notes.append(f"{priors:,} trees have no defect on record: a stated prior stands in")
    return notes
