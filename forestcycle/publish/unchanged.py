"""Carry over the papers of crew-days and crew-weeks that a revision leaves as they were.

A sheet of a day that stays the same keeps the mark of the plan from which it
was printed first: what the crew has in hand is still right.
"""

import os
import shutil
from collections.abc import Sequence, Set
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from forestcycle.publish.output import Carried, Paper
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


def what_to_carry(plan: PlanFolder, unchanged: Unchanged, papers: Sequence[Paper]) -> Carried:
    """Pick the crew-days and crew-weeks whose papers can be carried over.

    Parameters
    ----------
    plan : PlanFolder
    unchanged : Unchanged
    papers : sequence of Paper
        Those that are carried over.

    Returns
    -------
    Carried
        Of those used: unchanged days, and weeks of which no day has changed, whose papers are
        all there in the older folder.
    """
    days = plan.crew_days[plan.crew_days["use"].astype(str) == "planned"]
    names, crews = days["crew_day_id"].astype(str), days["crew"].astype(str)
    dates = days["date"].dt.date

    def has(*, of_week: bool) -> pd.Series:
        return pd.Series(
            [
                all(
                    (unchanged.folder / paper.path(crew, day)).exists()
                    for paper in papers
                    if paper.of_week == of_week
                )
                for crew, day in zip(crews, dates, strict=True)
            ],
            index=days.index,
        )

    same = names.isin(unchanged.crew_days) & has(of_week=False)
    week = days["date"].dt.strftime("%G-W%V")
    whole = (same & has(of_week=True)).groupby([crews, week]).transform("all")
    return Carried(days=set(names[same]), weeks=set(names[whole]))


def carry_over(
    plan: PlanFolder,
    older: Path,
    carried: Carried,
    papers: Sequence[Paper],
    folder: Path,
) -> None:
    """Link or copy papers from an older publication.

    Parameters
    ----------
    plan : PlanFolder
    older : Path
        Folder of the older publication.
    carried : Carried
        From :func:`what_to_carry`.
    papers : sequence of Paper
        Those that are carried over.
    folder : Path
        Where to.
    """
    for paper in papers:
        chosen = carried.weeks if paper.of_week else carried.days
        days = plan.crew_days[plan.crew_days["crew_day_id"].astype(str).isin(chosen)]
        paths = map(paper.path, days["crew"].astype(str), days["date"].dt.date)
        for name in sorted(set(paths)):
            _link(older / name, folder / name)


def _link(path: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(path, target)
    except OSError:  # a file system without hard links
        shutil.copy2(path, target)
