"""From the inventory and its assessment to the packing problem."""

from collections.abc import Iterable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault, PlanError
from forestcycle.inventory import Inventory
from forestcycle.practice import Assessment
from forestcycle.schedule.calendar import CrewCalendar, crew_calendar
from forestcycle.schedule.crew_facts import SKILL_BIT, crew_skill_bits, leaves_depot
from forestcycle.schedule.eligibility import Ineligible, TreeNeeds, ineligible, refuse_hopeless
from forestcycle.schedule.problem import BoolArray, IntArray, Problem
from forestcycle.schedule.tree_rules import crew_equipment_bits, equipment_bits, work_hours
from forestcycle.settings import CycleSettings
from forestcycle.travel import Travel

LEAST_WORTH = 1e-9


def build_problem(
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
    travel: Travel,
    place_of_tree: IntArray,
    *,
    calendar: CrewCalendar | None = None,
) -> tuple[Problem, NDArray[np.str_]]:
    """Put together trees, crew-days and limits.

    Parameters
    ----------
    inventory : Inventory
    assessment : Assessment
        One row per tree of the inventory.
    settings : CycleSettings
    travel : Travel
        Over places, then depots in the order of the depots layer.
    place_of_tree : (n,) int64
        Travel node of each tree.
    calendar : CrewCalendar, optional
        That of the settings by default.

    Returns
    -------
    problem : Problem
        Holds the eligible trees only, in the order of the inventory.
    reason : (n,) str
        Of :class:`Ineligible` per inventory tree; empty where eligible.

    Raises
    ------
    PlanError
        If there is no crew-day, no eligible tree, an unknown depot, or a
        mandatory tree that no crew-day could visit.
    """
    calendar = crew_calendar(settings) if calendar is None else calendar
    planned = ~calendar.storm_reserve
    if not planned.any():
        raise PlanError(
            Fault("every crew-day is storm reserve", "calendar.storm_reserve", "lower it")
        )
    window, open_on = _windows(assessment, calendar)
    table = assessment.trees
    hours_from, hours_until = work_hours(settings, inventory)
    needs = TreeNeeds(
        place=np.asarray(place_of_tree, dtype=np.int64),
        minutes=table["minutes"].to_numpy(np.float64),
        skill=table["skill"].astype(str).map(SKILL_BIT).to_numpy(np.uint32),
        equipment=equipment_bits(settings, inventory, table),
        hours_from=hours_from,
        hours_until=hours_until,
        window=window,
        open_on=open_on,
        mandatory=table["mandatory"].to_numpy(np.bool_),
    )
    depot = _depot_of_crew(inventory, settings, travel)
    reason = ineligible(needs, table, settings, calendar, travel, depot)
    refuse_hopeless(needs, table, reason, travel.notes)
    eligible = np.flatnonzero(reason == Ineligible.ELIGIBLE)
    return _problem(
        inventory, assessment, settings, travel, needs, eligible, calendar, depot
    ), reason


def _windows(assessment: Assessment, calendar: CrewCalendar) -> tuple[IntArray, BoolArray]:
    """Window of each tree, and the dates on which each window is open."""
    table = assessment.trees
    first = pd.Timestamp(calendar.first_day)
    opens = (table["not_before"] - first).dt.days.fillna(0).clip(0, calendar.days)
    shuts = (table["deadline"] - first).dt.days.fillna(calendar.days).clip(-1, calendar.days)
    key = np.column_stack([opens, shuts, table["season"]]).astype(np.int64)
    distinct, window = np.unique(key, axis=0, return_inverse=True)
    day = np.arange(calendar.days)
    in_season = _in_season(assessment, calendar)
    open_on = (day >= distinct[:, [0]]) & (day <= distinct[:, [1]]) & in_season[distinct[:, 2]]
    return window.reshape(-1).astype(np.int64), open_on


def _in_season(assessment: Assessment, calendar: CrewCalendar) -> BoolArray:
    in_season = np.ones((len(assessment.season_closed), calendar.days), dtype=np.bool_)
    for row, closures in enumerate(assessment.season_closed):
        for start, end, _rule in closures:
            low = max(0, (start - calendar.first_day).days)
            high = max(0, (end - calendar.first_day).days + 1)
            in_season[row, low:high] = False
    return in_season


def _depot_of_crew(inventory: Inventory, settings: CycleSettings, travel: Travel) -> IntArray:
    """Travel node of each crew's depot."""
    names = [] if inventory.depots is None else inventory.depots["depot"].astype(str).tolist()
    wrong = [crew for crew in settings.crews if crew.depot and crew.depot not in names]
    if wrong:
        known = ", ".join(names) or "the inventory has no depots layer"
        raise PlanError(
            [
                Fault(
                    f"crew {crew.name!r}: no depot {crew.depot!r}", "[[crews]]", f"known: {known}"
                )
                for crew in wrong
            ]
        )
    row = [names.index(crew.depot) if crew.depot else 0 for crew in settings.crews]
    return np.array(row, dtype=np.int64) + travel.place_count


def _problem(
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
    travel: Travel,
    needs: TreeNeeds,
    eligible: IntArray,
    calendar: CrewCalendar,
    depot: IntArray,
) -> Problem:
    source = inventory.trees.iloc[eligible]
    table = assessment.trees.iloc[eligible]
    funds = list(settings.budget.fund_cents)
    wards = list(settings.plan.ward_least_share)
    planned = ~calendar.storm_reserve
    crew = calendar.crew[planned]
    crews = settings.crews
    return Problem(
        tree=eligible.astype(np.int64),
        place=needs.place[eligible],
        x=source.geometry.x.to_numpy(np.float64),
        y=source.geometry.y.to_numpy(np.float64),
        worth=np.maximum(table["priority"].to_numpy(np.float64), LEAST_WORTH),
        service_minutes=needs.minutes[eligible],
        cost_cents=table["cost_cents"].to_numpy(np.int64),
        fund=_position(source["fund"], funds),
        ward=_position(source["ward"], wards),
        skill=(needs.skill | needs.equipment)[eligible],
        window=needs.window[eligible],
        open_on=needs.open_on,
        hours_from=needs.hours_from[eligible],
        hours_until=needs.hours_until[eligible],
        mandatory=needs.mandatory[eligible],
        date=calendar.day[planned],
        crew=crew,
        depot=depot[crew],
        start_minute=np.array([leaves_depot(c) for c in crews])[crew],
        capacity_minutes=np.array([float(c.working_minutes) for c in crews])[crew],
        break_after=np.array([c.working_minutes / 2 for c in crews])[crew],
        break_minutes=np.array([float(c.break_minutes) for c in crews])[crew],
        crew_skill=np.array(
            [crew_skill_bits(c) | crew_equipment_bits(settings, c) for c in crews], dtype=np.uint32
        )[crew],
        day_cost_cents=np.array([c.day_cost_cents for c in crews], dtype=np.int64)[crew],
        budget_cents=settings.budget.year_cents,
        fund_budget_cents=np.array(list(settings.budget.fund_cents.values()), dtype=np.int64),
        ward_least_share=np.array(list(settings.plan.ward_least_share.values()), dtype=np.float64),
        parking_minutes=settings.travel.parking_minutes,
        travel=travel,
    )


def _position(values: Iterable[str], known: list[str]) -> IntArray:
    """Position of each value among the known ones, -1 where it is none of them."""
    position = {value: place for place, value in enumerate(known)}
    return np.array([position.get(value, -1) for value in values], dtype=np.int64)
