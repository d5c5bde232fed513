"""Carry over the papers of crew-weeks that a revision leaves as they were.

A sheet of a day that stays the same keeps the mark of the plan from which it
was printed first: what the crew has in hand is still right.
"""

import os
import shutil
from collections.abc import Set
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.publish.day_map import week_page
from forestcycle.publish.names import safe_name
from forestcycle.publish.plan_folder import PlanFolder


@dataclass(frozen=True)
class Unchanged:
    """What an older publication of the plan already says right.

    Attributes
    ----------
    folder : Path
        The older plan's.
    crew_days : set of str
        ``crew_day_id`` of those whose stops, times and texts are the same.
    """

    folder: Path
    crew_days: Set[str]


def whole_weeks(plan: PlanFolder, unchanged: Unchanged) -> set[str]:
    """Pick the unchanged crew-days of crew-weeks that are unchanged as a whole.

    Parameters
    ----------
    plan : PlanFolder
    unchanged : Unchanged

    Returns
    -------
    set of str
        Of those used; whose papers are all there in the older folder.
    """
    days = plan.crew_days[plan.crew_days["use"].astype(str) == "planned"]
    table = pd.DataFrame(
        {
            "id": days["crew_day_id"].astype(str),
            "crew": days["crew"].astype(str),
            "week": days["date"].dt.strftime("%G-W%V"),
            "date": days["date"].dt.date,
        }
    )
    table["same"] = [
        name in unchanged.crew_days and _all_there(unchanged.folder, crew, day)
        for name, crew, day in zip(table["id"], table["crew"], table["date"], strict=True)
    ]
    whole = table.groupby(["crew", "week"])["same"].transform("all")
    return set(table.loc[whole, "id"])


def carry_over(plan: PlanFolder, unchanged: Unchanged, crew_days: Set[str], folder: Path) -> None:
    """Link or copy the papers of crew-days from an older publication.

    Parameters
    ----------
    plan : PlanFolder
    unchanged : Unchanged
    crew_days : set of str
        From :func:`whole_weeks`.
    folder : Path
        Where to.
    """
    days = plan.crew_days[plan.crew_days["crew_day_id"].astype(str).isin(crew_days)]
    names = {
        name
        for crew, day in zip(days["crew"].astype(str), days["date"].dt.date, strict=True)
        for name in _papers(crew, day)
    }
    for name in sorted(names):
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.link(unchanged.folder / name, target)
        except OSError:  # a file system without hard links
            shutil.copy2(unchanged.folder / name, target)


def without(plan: PlanFolder, crew_days: Set[str]) -> PlanFolder:
    """Leave out crew-days, for the writers of papers by day and week.

    Parameters
    ----------
    plan : PlanFolder
    crew_days : set of str

    Returns
    -------
    PlanFolder
    """
    kept = {
        name: table[~table["crew_day_id"].astype(str).isin(crew_days)].reset_index(drop=True)
        for name, table in (
            ("stops", plan.stops),
            ("crew_days", plan.crew_days),
            ("legs", plan.legs),
        )
    }
    return replace(plan, stops=kept["stops"], crew_days=kept["crew_days"], legs=kept["legs"])


def _papers(crew: str, day: date) -> list[str]:
    sheets = f"sheets/{safe_name(crew)}"
    return [
        f"{sheets}/{day.isoformat()}.pdf",
        f"{sheets}/{day.isoformat()}.gpx",
        f"{sheets}/week-{day:%G-W%V}.pdf",
        week_page(crew, day),
    ]


def _all_there(folder: Path, crew: str, day: date) -> bool:
    return all((folder / name).exists() for name in _papers(crew, day))
