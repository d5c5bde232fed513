"""Carry over the papers of crew-weeks that a revision leaves as they were.

A sheet of a day that stays the same keeps the mark of the plan from which it
was printed first: what the crew has in hand is still right.
"""

import os
import shutil
from collections.abc import Sequence, Set
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from forestcycle.publish.output import Paper
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


def whole_weeks(plan: PlanFolder, unchanged: Unchanged, papers: Sequence[Paper]) -> set[str]:
    """Pick the unchanged crew-days of crew-weeks that are unchanged as a whole.

    Parameters
    ----------
    plan : PlanFolder
    unchanged : Unchanged
    papers : sequence of Paper
        Those that are carried over.

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
        name in unchanged.crew_days
        and all((unchanged.folder / paper.path(crew, day)).exists() for paper in papers)
        for name, crew, day in zip(table["id"], table["crew"], table["date"], strict=True)
    ]
    whole = table.groupby(["crew", "week"])["same"].transform("all")
    return set(table.loc[whole, "id"])


def carry_over(
    plan: PlanFolder,
    older: Path,
    crew_days: Set[str],
    papers: Sequence[Paper],
    folder: Path,
) -> None:
    """Link or copy the papers of crew-days from an older publication.

    Parameters
    ----------
    plan : PlanFolder
    older : Path
        Folder of the older publication.
    crew_days : set of str
        From :func:`whole_weeks`.
    papers : sequence of Paper
        Those that are carried over.
    folder : Path
        Where to.
    """
    days = plan.crew_days[plan.crew_days["crew_day_id"].astype(str).isin(crew_days)]
    names = {
        paper.path(crew, day)
        for crew, day in zip(days["crew"].astype(str), days["date"].dt.date, strict=True)
        for paper in papers
    }
    for name in sorted(names):
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.link(older / name, target)
        except OSError:  # a file system without hard links
            shutil.copy2(older / name, target)
