"""From a packed year to the figures of its summary."""

from collections import Counter

import numpy as np
import pandas as pd

from forestcycle.cycle.named import unknown_funds
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.summary import Summary, versions
from forestcycle.errors import MOST_NAMES_SHOWN
from forestcycle.practice import sensitivity
from forestcycle.schedule.eligibility import Ineligible


def summarise(outcome: Outcome, crew_days: pd.DataFrame) -> Summary:
    """Count what a plan comes to, before it is verified.

    Parameters
    ----------
    outcome : Outcome
    crew_days : DataFrame
        The layer ``crew_days``.

    Returns
    -------
    Summary
    """
    settings, inventory, plan = outcome.city.settings, outcome.city.inventory, outcome.plan
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
    unpacked = 0 if outcome.plan.interrupted else outcome.plan.unpacked
    if unpacked:
        notes.append(
            f"the time limit was too short to pack {unpacked:,} of "
            f"{outcome.problem.crew_days:,} crew-days, which stay empty: plan again with more"
        )
    notes += [str(fault) for fault in (*outcome.travel.notes, *unknown_funds(outcome.city))]
    notes += _out_of_reach(outcome)
    priors = int(outcome.assessment.trees["defects_are_prior"].sum())
    if priors:
        notes.append(f"{priors:,} trees have no defect on record: a stated prior stands in")
    return notes


def _out_of_reach(outcome: Outcome) -> list[str]:
    """Name the trees that no crew can get to, or be done with, in a shift."""
    names = outcome.city.inventory.trees["tree_id"].to_numpy()
    notes = []
    for reason in (Ineligible.UNREACHABLE, Ineligible.TOO_LONG, Ineligible.OUT_OF_HOURS):
        trees = names[outcome.reason == str(reason)]
        if len(trees):
            more = ", ..." if len(trees) > MOST_NAMES_SHOWN else ""
            plural = "s" if len(trees) > 1 else ""
            shown = ", ".join(trees[:MOST_NAMES_SHOWN])
            notes.append(f"{reason}: {len(trees):,} tree{plural} left out, {shown}{more}")
    return notes
