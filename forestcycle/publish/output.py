"""What an output is: how it is written, where it lies, and what else must know of it.

Each module that writes one declares it as an :class:`Output`; ``outputs.py`` lists them. The
index, the papers that a revision carries over, what belongs to a plan's folder, the data
dictionary and the tests of all outputs follow from what is declared here.
"""

from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path

from forestcycle.parallel import Executor, Threads
from forestcycle.progress import Progress, silent
from forestcycle.publish.crew_day import CrewDay, used_crew_days
from forestcycle.publish.outlook_figures import OutlookFigures
from forestcycle.publish.plan_folder import PlanFolder


@dataclass(frozen=True)
class Carried:
    """Crew-days whose papers are taken over from an older publication.

    Attributes
    ----------
    days : set of str
        ``crew_day_id`` of those whose own papers are.
    weeks : set of str
        Of those in a crew's week whose papers are.
    """

    days: Set[str] = frozenset()
    weeks: Set[str] = frozenset()


@dataclass(frozen=True)
class Edition:
    """One publication of a plan: what every output is written from, and where to.

    Attributes
    ----------
    plan : PlanFolder
    folder : Path
        To write into: the plan's own, or one whose content is moved there.
    outlook : OutlookFigures or None
        The years ahead, where they are told.
    outlook_folder : Path or None
        Where they were read from.
    carried : Carried
        Crew-days whose papers are carried over from an older publication.
    executor : Executor
        Draws what stands by itself for a crew's week; a thread of this process by default.
    progress : callable
    """

    plan: PlanFolder
    folder: Path
    outlook: OutlookFigures | None = None
    outlook_folder: Path | None = None
    carried: Carried = Carried()
    executor: Executor = field(default_factory=lambda: Threads(1))
    progress: Progress = silent

    @cached_property
    def crew_days(self) -> list[CrewDay]:
        """All crew-days that have stops, by date and crew."""
        return used_crew_days(self.plan)

    def days_to_draw(self, *, of_week: bool = False) -> list[CrewDay]:
        """Those of :attr:`crew_days` whose papers are not carried over.

        Parameters
        ----------
        of_week : bool
            Those in crews' weeks whose papers are not.

        Returns
        -------
        list of CrewDay
        """
        carried = self.carried.weeks if of_week else self.carried.days
        return [day for day in self.crew_days if day.crew_day_id not in carried]


@dataclass(frozen=True)
class Link:
    """A document that the index links, where it is there.

    Attributes
    ----------
    path : str
        Relative to the plan's folder, with forward slashes.
    title, text : str
        The link's words, and what one finds there.
    rank : int
        Links stand by rank, least first.
    """

    path: str
    title: str
    text: str
    rank: int


@dataclass(frozen=True)
class Paper:
    """A file for one crew's day or week.

    Attributes
    ----------
    path : callable
        From the crew's name, as the plan has it, and a day: the file, relative to the plan's
        folder, with forward slashes.
    carried : bool
        Whether a revision takes it over from the older plan where the crew's day or week stays
        the same. Its writer then leaves those out: see :meth:`Edition.days_to_draw`.
    of_week : bool
        Whether it is one for the whole week; else it is one for the day.
    label : str
        How the index links it beside the day; empty where it does not.
    rank : int
        Links beside a day stand by rank, least first.
    """

    path: Callable[[str, date], str]
    carried: bool
    of_week: bool = False
    label: str = ""
    rank: int = 0


@dataclass(frozen=True)
class Tables:
    """The CSV tables of an output, for the data dictionary.

    Attributes
    ----------
    title, text : str
        Heading, and what the tables are.
    files : dict of str to str
        By the table's name in ``docs/columns.csv``: the file, relative to the plan's folder.
    """

    title: str
    text: str
    files: Mapping[str, str]


@dataclass(frozen=True)
class Output:
    """One kind of output.

    Attributes
    ----------
    name : str
    place : str
        The file or folder within the plan's that it writes, alone or with others.
    write : callable
        Writes an edition's files and returns them; none, where there is nothing to say.
    step : str
        Told as progress before it begins; empty where it tells its own or takes no time.
    by_workers : bool
        Whether the edition's workers draw it.
    links : tuple of Link
    papers : tuple of Paper
    tables : Tables or None
    """

    name: str
    place: str
    write: Callable[[Edition], list[Path]]
    step: str = ""
    by_workers: bool = field(default=False, kw_only=True)
    links: tuple[Link, ...] = field(default=(), kw_only=True)
    papers: tuple[Paper, ...] = field(default=(), kw_only=True)
    tables: Tables | None = field(default=None, kw_only=True)
