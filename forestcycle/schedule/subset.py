"""A problem with some of its trees or crew-days."""

from dataclasses import replace
from typing import Any

from forestcycle.schedule.problem import BoolArray, IntArray, Problem

OF_TREES = (
    "tree", "place", "x", "y", "worth", "service_minutes", "cost_cents", "fund", "ward", "skill",
    "window", "hours_from", "hours_until", "mandatory",
)  # fmt: skip
OF_CREW_DAYS = (
    "date", "crew", "depot", "start_minute", "capacity_minutes", "break_after", "break_minutes",
    "crew_skill", "day_cost_cents",
)  # fmt: skip


def subset(
    problem: Problem,
    *,
    trees: BoolArray | None = None,
    crew_days: BoolArray | IntArray | None = None,
) -> Problem:
    """Take some trees and some crew-days; windows and dates stay as they are.

    Parameters
    ----------
    problem : Problem
    trees : (n,) bool, optional
    crew_days : (c,) bool or (k,) int64, optional
        Which to keep; or which to take, one named twice being there twice.

    Returns
    -------
    Problem
    """
    kept: dict[str, Any] = {}
    if trees is not None:
        kept |= {name: getattr(problem, name)[trees] for name in OF_TREES}
    if crew_days is not None:
        kept |= {name: getattr(problem, name)[crew_days] for name in OF_CREW_DAYS}
    return replace(problem, **kept)
