"""Which trees a crew-day could visit at all, and what keeps the others out."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault, PlanError
from forestcycle.schedule.calendar import CrewCalendar
from forestcycle.schedule.crew_facts import crew_skill_bits, leaves_depot
from forestcycle.schedule.hours import earliest_begin, latest_begin
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray
from forestcycle.schedule.tree_rules import crew_equipment_bits
from forestcycle.settings import Crew, CycleSettings
from forestcycle.travel import Travel


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


REMEDIES = {
    Ineligible.NOT_YET_DUE: "wait until it may be pruned again",
    Ineligible.SHUT: "change its deadline or the closed seasons",
    Ineligible.NO_SKILL: "give a crew the skill it needs",
    Ineligible.NO_EQUIPMENT: "give a crew the equipment it needs",
    Ineligible.UNREACHABLE: "join its street to the network, or check one-way directions",
    Ineligible.TOO_LONG: "lengthen a shift",
    Ineligible.OUT_OF_HOURS: "change the hours of its rule, or of a shift",
    Ineligible.NO_CREW_FITS: "change its deadline, or the days of a crew that could do it",
}
"""What would make a mandatory tree possible."""


@dataclass(frozen=True)
class TreeNeeds:
    """What each inventory tree, eligible or not, asks of a crew-day.

    Attributes
    ----------
    place : (n,) int64
        Travel node.
    minutes : (n,) float64
        At the tree.
    skill, equipment : (n,) uint32
        Bits that a crew must have.
    hours_from, hours_until : (n,) float64
        Minutes of the day between which the work must lie.
    window : (n,) int64
        Row of ``open_on``.
    open_on : (w, t) bool
        Dates on which each window is open.
    mandatory : (n,) bool
    """

    place: IntArray
    minutes: FloatArray
    skill: NDArray[np.uint32]
    equipment: NDArray[np.uint32]
    hours_from: FloatArray
    hours_until: FloatArray
    window: IntArray
    open_on: BoolArray
    mandatory: BoolArray


def ineligible(
    needs: TreeNeeds,
    table: pd.DataFrame,
    settings: CycleSettings,
    calendar: CrewCalendar,
    travel: Travel,
    depot: IntArray,
) -> NDArray[np.str_]:
    """Find the first reason that holds, from the most to the least general.

    Parameters
    ----------
    needs : TreeNeeds
    table : DataFrame
        ``Assessment.trees``.
    settings : CycleSettings
    calendar : CrewCalendar
    travel : Travel
    depot : (crews,) int64
        Travel node of each crew's depot.

    Returns
    -------
    (n,) str
        Of :class:`Ineligible`; empty where eligible.
    """
    priority = table["priority"].to_numpy(np.float64)
    never_due = table["not_before"].gt(pd.Timestamp(settings.city.year_end)).to_numpy(np.bool_)
    idle = ((priority <= 0) | (needs.minutes <= 0)) & ~needs.mandatory
    below = (priority < settings.plan.least_worth) & ~needs.mandatory
    holds = {
        Ineligible.NOT_YET_DUE: never_due,
        Ineligible.NOTHING_TO_DO: idle,
        Ineligible.BELOW_LEAST_WORTH: below,
        **_no_crew(needs, settings, calendar, travel, depot),
    }
    reason = np.select(list(holds.values()), list(holds), default=str(Ineligible.ELIGIBLE))
    return reason.astype(np.str_)


def _no_crew(
    needs: TreeNeeds,
    settings: CycleSettings,
    calendar: CrewCalendar,
    travel: Travel,
    depot: IntArray,
) -> dict[Ineligible, BoolArray]:
    """Reasons that lie with the crews: each holds where no crew has what it asks."""
    some = dict[Ineligible, BoolArray]()
    for number, crew in enumerate(settings.crews):
        days = calendar.day[(calendar.crew == number) & ~calendar.storm_reserve]
        brings = np.uint32(crew_equipment_bits(settings, crew))
        there, back = (way[needs.place] for way in _ways(travel, depot[number]))
        there += settings.travel.parking_minutes
        for reason, has in _what_crew_has(needs, crew, brings, days, there, back).items():
            some[reason] = some[reason] | has if reason in some else has
    return {reason: ~has for reason, has in some.items()}


def _what_crew_has(
    needs: TreeNeeds,
    crew: Crew,
    brings: np.uint32,
    days: IntArray,
    there: FloatArray,
    back: FloatArray,
) -> dict[Ineligible, BoolArray]:
    """Where a crew has what each reason would say is missing, general ones first."""
    skilled = (needs.skill & ~np.uint32(crew_skill_bits(crew))) == 0
    able = skilled & ((needs.equipment & ~brings) == 0)
    in_shift = there + needs.minutes + back <= crew.working_minutes
    punctual = able & _done_within_hours(needs, crew, there, back)
    is_open = np.any(needs.open_on[:, days], axis=1)[needs.window]
    return {
        Ineligible.NO_SKILL: skilled,
        Ineligible.NO_EQUIPMENT: able,
        Ineligible.UNREACHABLE: able & np.isfinite(there + back),
        Ineligible.TOO_LONG: able & in_shift,
        Ineligible.OUT_OF_HOURS: punctual,
        Ineligible.SHUT: is_open,
        Ineligible.NO_CREW_FITS: punctual & is_open,
    }


def _ways(travel: Travel, depot: int) -> tuple[FloatArray, FloatArray]:
    """Minutes from a depot to every place, and from every place back."""
    places = np.arange(travel.place_count)
    node = np.array([depot])
    return travel.minutes(node, places)[0], travel.minutes(places, node)[:, 0]


def _done_within_hours(
    needs: TreeNeeds, crew: Crew, there: FloatArray, back: FloatArray
) -> BoolArray:
    """Whether a crew that visits nothing else is done within a tree's hours and its shift."""
    clock = leaves_depot(crew), crew.working_minutes / 2, float(crew.break_minutes)
    begin = np.maximum(there, earliest_begin(needs.hours_from, *clock))
    in_hours = begin <= latest_begin(needs.hours_until, needs.minutes, *clock)
    return np.asarray(in_hours & (begin + needs.minutes + back <= crew.working_minutes))


def refuse_hopeless(
    needs: TreeNeeds,
    table: pd.DataFrame,
    reason: NDArray[np.str_],
    notes: Sequence[Fault] = (),
) -> None:
    """Refuse a year in which a mandatory tree, or every tree, is ineligible.

    Parameters
    ----------
    needs : TreeNeeds
    table : DataFrame
        ``Assessment.trees``.
    reason : (n,) str
        As from :func:`ineligible`.
    notes : sequence of Fault
        What is known of the streets; told where a tree cannot be reached.

    Raises
    ------
    PlanError
        With a fault for each such tree, or the reasons and their numbers.
    """
    hopeless = np.flatnonzero(needs.mandatory & (reason != Ineligible.ELIGIBLE))
    none_left = not (reason == Ineligible.ELIGIBLE).any()
    faults = [_impossible(table, reason, row) for row in hopeless.tolist()]
    if none_left:
        texts, counts = np.unique(reason, return_counts=True)
        found = "; ".join(f"{text}: {count:,}" for text, count in zip(texts, counts, strict=True))
        faults.insert(
            0,
            Fault(
                "no tree can be planned",
                found or "the inventory is empty",
                "check the year, the crews' skills and shifts, and plan.least_worth",
            ),
        )
    told = reason if none_left else reason[hopeless]
    if faults and (told == Ineligible.UNREACHABLE).any():
        faults = [*notes, *faults]
    if faults:
        raise PlanError(faults)


def _impossible(table: pd.DataFrame, reason: NDArray[np.str_], row: int) -> Fault:
    tree, word = table.iloc[row], Ineligible(reason[row])
    due = f", but on {tree['not_before']:%Y-%m-%d}" if word is Ineligible.NOT_YET_DUE else ""
    return Fault(
        f"mandatory tree {tree['tree_id']} cannot be visited: {word}{due}",
        "requests",
        f"{REMEDIES[word]}, or take back the request",
    )
