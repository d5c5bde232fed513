"""Candidate crew-days from generators that installed packages bring.

A generator is a function that proposes crew-days for a problem. A package
registers it under a name, as an entry point of the group
``forestcycle.candidates``::

    [project.entry-points."forestcycle.candidates"]
    street_by_street = "our_city.packing:street_by_street"

``plan.candidates = ["street_by_street"]`` in ``cycle.toml`` then lets it propose.
What it proposes stands beside the crew-days that packing finds; CP-SAT chooses
among all of them, within budgets and shares. Proposals that break a shift, a
window, opening hours or a skill are left out, so that no generator can make a
plan wrong.
"""

from collections.abc import Iterable, Sequence
from importlib.metadata import entry_points
from typing import Protocol

import numpy as np

from forestcycle.errors import Fault, SettingsError
from forestcycle.schedule.choose import Column
from forestcycle.schedule.cluster import ClusterSearch, Route
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.territory import Territory, ground_of, may_visit

GROUP = "forestcycle.candidates"


class CandidateGenerator(Protocol):
    """Whatever proposes crew-days."""

    def __call__(self, problem: Problem, *, seed: int) -> Iterable[Column]:
        """Propose crew-days.

        Parameters
        ----------
        problem : Problem
        seed : int
            Of the run: the same seed shall give the same proposals.

        Returns
        -------
        iterable of Column
            Crew-day and its trees in order, as positions in the problem's arrays.
        """
        ...


def installed_generators(names: Sequence[str]) -> list[CandidateGenerator]:
    """Load generators by name.

    Parameters
    ----------
    names : sequence of str
        ``plan.candidates`` of the settings.

    Returns
    -------
    list of CandidateGenerator

    Raises
    ------
    SettingsError
        With one fault per name that no installed package brings, or that does
        not load.
    """
    installed = {entry.name: entry for entry in entry_points(group=GROUP)}
    there = ", ".join(sorted(installed)) or "none"
    found: list[CandidateGenerator] = []
    faults = []
    for name in names:
        try:
            found.append(installed[name].load())
        except KeyError:
            remedy = f"install the package that brings it; installed: {there}"
            faults.append(Fault(f"no candidate generator {name!r}", "plan.candidates", remedy))
        except (ImportError, AttributeError) as error:
            what = f"candidate generator {name!r} does not load: {error}"
            faults.append(Fault(what, "plan.candidates", "mend or remove it"))
    if faults:
        raise SettingsError(faults)
    return found


def proposals(
    problem: Problem, generators: Sequence[CandidateGenerator], *, seed: int
) -> dict[Column, float]:
    """Ask generators for crew-days, and keep those that can be worked.

    Parameters
    ----------
    problem : Problem
    generators : sequence of CandidateGenerator
    seed : int

    Returns
    -------
    dict of Column to float
        With the worth of each.
    """
    return {
        column: float(problem.worth[list(column.trees)].sum())
        for generate in generators
        for column in generate(problem, seed=seed)
        if can_be_worked(problem, column)
    }


def can_be_worked(problem: Problem, column: Column) -> bool:
    """Whether a crew-day keeps its shift, and every stop its window, hours and skill.

    Parameters
    ----------
    problem : Problem
    column : Column

    Returns
    -------
    bool
        False, too, where a tree comes twice, or tree or crew-day do not exist.
    """
    trees = np.array(column.trees, dtype=np.int64)
    if not _exists(problem, column) or len(np.unique(trees)) < len(trees):
        return False
    crew_day = np.array([column.crew_day], dtype=np.int64)
    if not may_visit(problem, crew_day, trees).all():
        return False
    alone = Territory(crew_day, trees)
    ground = ground_of(problem, alone, problem.worth[trees], np.zeros(1))
    start = Route(0, tuple(range(len(trees))))
    return bool(ClusterSearch(ground, seed=0, start=[start]).routes[0].stops)


def _exists(problem: Problem, column: Column) -> bool:
    trees = column.trees
    there = 0 <= column.crew_day < problem.crew_days and bool(trees)
    return there and min(trees) >= 0 and max(trees) < problem.trees
