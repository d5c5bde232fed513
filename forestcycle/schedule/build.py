"""From the inventory and its assessment to the packing problem."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault, PlanError
from forestcycle.inventory import Inventory
from forestcycle.practice import Assessment
from forestcycle.schedule.calendar import CrewCalendar, crew_calendar
from forestcycle.schedule.hours import earliest_begin, latest_begin
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem
from forestcycle.schedule.tree_rules import crew_equipment_bits, equipment_bits, work_hours
from forestcycle.settings import Crew, CycleSettings
from forestcycle.settings.crews import Skill
from forestcycle.travel import Travel

SKILL_BIT: dict[Skill, int] = {"ground": 1, "climb": 2, "lift": 4, "line_clearance": 8}
LEAST_WORTH = 1e-9


class Ineligible(StrEnum):
    """Why no crew-day could visit a tree, whatever else is planned."""

    ELIGIBLE = ""
    NOTHING_TO_DO = "nothing to do"
    BELOW_LEAST_WORTH = "below the least worth"
    NOT_YET_DUE = "not yet due"
    SHUT = "season shut on every working day"
    NO_SKILL = "no crew with the skill"
    NO_EQUIPMENT = "no crew with the equipment"
    UNREACHABLE = "no way from any depot"
    TOO_LONG = "longer than any shift"
    OUT_OF_HOURS = "no crew can be there and done within its hours"
    NO_CREW_FITS = "no crew that could do it works while it is open"


@dataclass(frozen=True)
class _Trees:
    """Every inventory tree, eligible or not, as the packer sees it."""

    place: IntArray
    minutes: FloatArray
    skill: NDArray[np.uint32]
    equipment: NDArray[np.uint32]
    hours_from: FloatArray
    hours_until: FloatArray
    window: IntArray
    open_on: BoolArray
    mandatory: BoolArray


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
    trees = _Trees(
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
    reason = _reasons(trees, table, settings, calendar, travel, depot)
    eligible = np.flatnonzero(reason == Ineligible.ELIGIBLE)
    _refuse_hopeless(trees, table, reason, eligible)
    return _problem(
        inventory, assessment, settings, travel, trees, eligible, calendar, depot
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


def _crew_skill(crew: Crew) -> int:
    """Bits of a crew's skills; anyone can work from the ground."""
    bits = SKILL_BIT["ground"]
    for skill in crew.skills:
        bits |= SKILL_BIT[skill]
    return bits


def _reasons(
    trees: _Trees,
    table: pd.DataFrame,
    settings: CycleSettings,
    calendar: CrewCalendar,
    travel: Travel,
    depot: IntArray,
) -> NDArray[np.str_]:
    """First reason that holds, from the most to the least general."""
    n = len(table)
    skilled, equipped, reached = (np.zeros(n, dtype=np.bool_) for _ in range(3))
    within, punctual, opened, fits = (np.zeros(n, dtype=np.bool_) for _ in range(4))
    for number, crew in enumerate(settings.crews):
        days = calendar.day[(calendar.crew == number) & ~calendar.storm_reserve]
        has_skill = (trees.skill & ~np.uint32(_crew_skill(crew))) == 0
        brings = np.uint32(crew_equipment_bits(settings, crew))
        able = has_skill & ((trees.equipment & ~brings) == 0)
        there, back = (way[trees.place] for way in _ways(travel, depot[number]))
        there += settings.travel.parking_minutes
        in_time = there + trees.minutes + back <= crew.working_minutes
        in_hours = _done_within_hours(trees, crew, there, back)
        is_open = np.any(trees.open_on[:, days], axis=1)[trees.window]
        skilled |= has_skill
        equipped |= able
        reached |= able & np.isfinite(there + back)
        within |= able & in_time
        punctual |= able & in_hours
        opened |= is_open
        fits |= able & in_hours & is_open
    priority = table["priority"].to_numpy(np.float64)
    never_due = table["not_before"].gt(pd.Timestamp(settings.city.year_end)).to_numpy(np.bool_)
    idle = ((priority <= 0) | (trees.minutes <= 0)) & ~trees.mandatory
    below = (priority < settings.plan.least_worth) & ~trees.mandatory
    reason = np.select(
        [
            never_due,
            idle,
            below,
            ~skilled,
            ~equipped,
            ~reached,
            ~within,
            ~punctual,
            ~opened,
            ~fits,
        ],
        [
            Ineligible.NOT_YET_DUE,
            Ineligible.NOTHING_TO_DO,
            Ineligible.BELOW_LEAST_WORTH,
            Ineligible.NO_SKILL,
            Ineligible.NO_EQUIPMENT,
            Ineligible.UNREACHABLE,
            Ineligible.TOO_LONG,
            Ineligible.OUT_OF_HOURS,
            Ineligible.SHUT,
            Ineligible.NO_CREW_FITS,
        ],
        default=str(Ineligible.ELIGIBLE),
    )
    return reason.astype(np.str_)


def _ways(travel: Travel, depot: int) -> tuple[FloatArray, FloatArray]:
    """Minutes from a depot to every place, and from every place back."""
    places = np.arange(travel.place_count)
    node = np.array([depot])
    return travel.minutes(node, places)[0], travel.minutes(places, node)[:, 0]


def _done_within_hours(trees: _Trees, crew: Crew, there: FloatArray, back: FloatArray) -> BoolArray:
    """Whether a crew that visits nothing else is done within a tree's hours and its shift."""
    clock = _leaves_depot(crew), crew.working_minutes / 2, float(crew.break_minutes)
    begin = np.maximum(there, earliest_begin(trees.hours_from, *clock))
    in_hours = begin <= latest_begin(trees.hours_until, trees.minutes, *clock)
    return np.asarray(in_hours & (begin + trees.minutes + back <= crew.working_minutes))


def _refuse_hopeless(
    trees: _Trees, table: pd.DataFrame, reason: NDArray[np.str_], eligible: IntArray
) -> None:
    hopeless = np.flatnonzero(trees.mandatory & (reason != Ineligible.ELIGIBLE))
    if len(hopeless):
        raise PlanError(
            [
                Fault(
                    f"mandatory tree {table['tree_id'].iloc[row]} cannot be visited: {reason[row]}",
                    "requests",
                    "take back the request, or change its deadline, the crews, seasons or hours",
                )
                for row in hopeless
            ]
        )
    if not len(eligible):
        texts, counts = np.unique(reason, return_counts=True)
        found = "; ".join(f"{text}: {count:,}" for text, count in zip(texts, counts, strict=True))
        raise PlanError(
            Fault(
                "no tree can be planned",
                found or "the inventory is empty",
                "check the year, the crews' skills and shifts, and plan.least_worth",
            )
        )


def _problem(
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
    travel: Travel,
    trees: _Trees,
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
        place=trees.place[eligible],
        x=source.geometry.x.to_numpy(np.float64),
        y=source.geometry.y.to_numpy(np.float64),
        worth=np.maximum(table["priority"].to_numpy(np.float64), LEAST_WORTH),
        service_minutes=trees.minutes[eligible],
        cost_cents=table["cost_cents"].to_numpy(np.int64),
        fund=_position(source["fund"], funds),
        ward=_position(source["ward"], wards),
        skill=(trees.skill | trees.equipment)[eligible],
        window=trees.window[eligible],
        open_on=trees.open_on,
        hours_from=trees.hours_from[eligible],
        hours_until=trees.hours_until[eligible],
        mandatory=trees.mandatory[eligible],
        date=calendar.day[planned],
        crew=crew,
        depot=depot[crew],
        start_minute=np.array([_leaves_depot(c) for c in crews])[crew],
        capacity_minutes=np.array([float(c.working_minutes) for c in crews])[crew],
        break_after=np.array([c.working_minutes / 2 for c in crews])[crew],
        break_minutes=np.array([float(c.break_minutes) for c in crews])[crew],
        crew_skill=np.array(
            [_crew_skill(c) | crew_equipment_bits(settings, c) for c in crews], dtype=np.uint32
        )[crew],
        day_cost_cents=np.array([c.day_cost_cents for c in crews], dtype=np.int64)[crew],
        budget_cents=settings.budget.year_cents,
        fund_budget_cents=np.array(list(settings.budget.fund_cents.values()), dtype=np.int64),
        ward_least_share=np.array(list(settings.plan.ward_least_share.values()), dtype=np.float64),
        parking_minutes=settings.travel.parking_minutes,
        travel=travel,
    )


def _leaves_depot(crew: Crew) -> float:
    """Minute of the day at which a crew leaves the depot, set-up done."""
    return crew.shift_start.hour * 60.0 + crew.shift_start.minute + crew.setup_minutes


def _position(values: Iterable[str], known: list[str]) -> IntArray:
    """Position of each value among the known ones, -1 where it is none of them."""
    position = {value: place for place, value in enumerate(known)}
    return np.array([position.get(value, -1) for value in values], dtype=np.int64)
