"""The weeks of a plan's crews, and papers that are written week by week."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TypeVar

from forestcycle.inventory.atomic import flushed_together, write_bytes_atomically
from forestcycle.parallel import Task
from forestcycle.progress import Step
from forestcycle.publish.crew_day import CrewDay
from forestcycle.publish.output import Edition

Common = TypeVar("Common")
Own = TypeVar("Own")


@dataclass(frozen=True)
class CrewWeek:
    """The days of one crew in one ISO week.

    Attributes
    ----------
    crew : str
        As the plan has it.
    year, week : int
        ISO 8601.
    days : list of CrewDay
    """

    crew: str
    year: int
    week: int
    days: list[CrewDay]

    @property
    def label(self) -> str:
        """Year and week as ISO 8601 writes them, such as ``2027-W11``."""
        return f"{self.year}-W{self.week:02d}"


def crew_weeks(days: list[CrewDay]) -> list[CrewWeek]:
    """Group crew-days by crew and ISO week.

    Parameters
    ----------
    days : list of CrewDay

    Returns
    -------
    list of CrewWeek
        By crew, then time.
    """

    def key(day: CrewDay) -> tuple[str, int, int]:
        year, week, _ = day.date.isocalendar()
        return day.crew, year, week

    ordered = sorted(days, key=lambda day: (day.crew, day.date))
    return [CrewWeek(*week, list(group)) for week, group in groupby(ordered, key)]


def write_weeks(
    edition: Edition,
    name: str,
    draw: Callable[[Common, Own], dict[str, bytes]],
    common: Common,
    weeks: dict[str, Own],
) -> list[Path]:
    """Have the edition's workers write what stands by itself for each crew's week.

    They are not flushed to the disk one by one: that is left to the caller.

    Parameters
    ----------
    edition : Edition
    name : str
        What is written, for progress and errors.
    draw : callable
        Defined at the top level of a module. From ``common`` and a week: the content of
        each file, by its path relative to the plan's folder.
    common : object
        What all weeks need.
    weeks : dict of str to object
        What each week needs, by a name for it.

    Returns
    -------
    list of Path
        Sorted.
    """
    tasks = [Task(f"{name} of {week}", own) for week, own in weeks.items()]
    written: list[Path] = []
    shared = edition.executor.share(_Shelf(edition.folder, draw, common))
    edition.progress(Step(name, 0, len(tasks)))
    for finished, done in enumerate(edition.executor.run(_write, tasks, shared), start=1):
        written += done.value
        edition.progress(Step(name, finished, len(tasks)))
    return sorted(written)


@dataclass(frozen=True)
class _Shelf:
    """Where papers go, how they are drawn, and what they have in common."""

    folder: Path
    draw: Callable[..., dict[str, bytes]]
    common: object


def _write(shelf: _Shelf, week: object) -> list[Path]:
    papers = shelf.draw(shelf.common, week)
    written = []
    with flushed_together():
        for place, content in papers.items():
            path = shelf.folder / place
            write_bytes_atomically(path, content)
            written.append(path)
    return written
