"""The simulator's own books, in plain Python: they share no code with the project."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

Visit = tuple[str, date, str]
"""Tree, day and crew: what makes two returns returns of one visit."""
Facts = tuple[str, float, float]
"""Outcome, minutes and dose."""


@dataclass(frozen=True)
class Told:
    """A line that a crew or a clerk hands in."""

    tree: str
    day: date
    crew: str
    outcome: str
    minutes: float
    dose: float

    @property
    def visit(self) -> Visit:
        return self.tree, self.day, self.crew

    @property
    def facts(self) -> Facts:
        return self.outcome, self.minutes, self.dose


@dataclass
class Ledger:
    """What must be true after every file.

    Attributes
    ----------
    trees : frozenset of str
        Those that the city knows.
    day_cost : dict of str to int
        Cents of one day of each crew.
    recorded : dict
        Facts of every visit that counts.
    cost : dict
        Direct cents of each visit, as the plan said when it was handed out.
    refused : int
        Lines refused so far, each once however often its file is handed in.
    """

    trees: frozenset[str]
    day_cost: dict[str, int]
    recorded: dict[Visit, Facts] = field(default_factory=dict)
    cost: dict[Visit, int] = field(default_factory=dict)
    refused: int = 0

    def tell(self, lines: Iterable[Told], today: date) -> tuple[int, int, int]:
        """Enter a file of lines.

        Returns
        -------
        new, known, refused : int
            Visits entered, lines that said what was known, lines refused.
        """
        said: dict[Visit, list[Facts]] = defaultdict(list)
        new = known = refused = 0
        for line in lines:
            if line.tree not in self.trees or line.day > today:
                refused += 1
            else:
                said[line.visit].append(line.facts)
        for visit, versions in said.items():
            before = self.recorded.get(visit)
            if len(set(versions)) > 1 or before not in (None, versions[0]):
                refused += len(versions) if len(set(versions)) > 1 else 1
            elif before is not None:
                known += len(versions)
            else:
                self.recorded[visit] = versions[0]
                new, known = new + 1, known + len(versions) - 1
        return new, known, refused

    def worked(self) -> dict[Visit, Facts]:
        """Visits at which work was done."""
        return {visit: facts for visit, facts in self.recorded.items() if facts[0] != "skipped"}

    def minutes(self) -> float:
        """All minutes told."""
        return sum(minutes for _, minutes, _ in self.recorded.values())

    def cents(self) -> int:
        """What the season has cost: each visit's own cost, and each crew-day once."""
        days = {(crew, day) for _, day, crew in self.worked()}
        own = sum(self.cost[visit] for visit in self.worked())
        return own + sum(self.day_cost[crew] for crew, _ in days)
