"""A city's trees, counted into cells for the first year and described by state after it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from forestcycle.inventory.schema import Inventory
from forestcycle.outlook.budget import CrewKind
from forestcycle.outlook.cells import Cells, count_cells
from forestcycle.outlook.facts import tree_facts
from forestcycle.outlook.pace import Pace, pace_of_trees
from forestcycle.outlook.states import FloatArray, StateSpace
from forestcycle.outlook.tree_sizes import lay_out_sizes, size_of_trees
from forestcycle.outlook.visit_means import VisitMeans, means_of_visits
from forestcycle.outlook.wards import number_wards
from forestcycle.practice.assessment import Assessment
from forestcycle.practice.priority import load_points


@dataclass(frozen=True)
class Stock:
    """Everything about a city that the years ahead start from.

    Attributes
    ----------
    wards : tuple of str
    overhead : (wards,) float64
        Crew minutes of travel and parking per visit.
    crew_kinds : tuple of CrewKind
    states : StateSpace
    cells : Cells
    pace : Pace
    means : VisitMeans
    overdue_points, most_overdue_spans : float
        Weighted points at the end of the promised span, and how many spans count.
    """

    wards: tuple[str, ...]
    overhead: FloatArray
    crew_kinds: tuple[CrewKind, ...]
    states: StateSpace
    cells: Cells
    pace: Pace
    means: VisitMeans
    overdue_points: float
    most_overdue_spans: float

    @property
    def trees(self) -> float:
        """Number of trees."""
        return float(self.cells.trees.sum())


def take_stock(
    inventory: Inventory,
    assessment: Assessment,
    crew_kinds: Sequence[CrewKind],
    overhead: Mapping[str, float],
) -> Stock:
    """Count trees into cells, and describe what a visit is like in each state.

    Parameters
    ----------
    inventory : Inventory
    assessment : Assessment
        Of the same trees.
    crew_kinds : sequence of CrewKind
    overhead : mapping of str to float
        Minutes of travel and parking per visit by ward; the entry ``""``
        stands in for wards without one.

    Returns
    -------
    Stock
    """
    facts = tree_facts(inventory, assessment)
    sizes = lay_out_sizes(assessment)
    size = size_of_trees(facts, sizes)
    pace = pace_of_trees(facts, assessment, sizes, size)
    points = load_points(folder=assessment.folder)
    states = with_clocks(sizes, pace, points.most_overdue_spans)
    wards, ward = number_wards(inventory.trees)
    skills = int(np.bitwise_or.reduce([kind.skill for kind in crew_kinds]))
    return Stock(
        wards=wards,
        overhead=np.array([overhead.get(name, overhead[""]) for name in wards]),
        crew_kinds=tuple(crew_kinds),
        states=states,
        cells=count_cells(
            facts, assessment, states, size=size, ward=ward, pace=pace, skills=skills
        ),
        pace=pace,
        means=means_of_visits(facts, assessment, states, size),
        overdue_points=points.overdue * assessment.practice.weights.overdue,
        most_overdue_spans=points.most_overdue_spans,
    )


def with_clocks(sizes: StateSpace, pace: Pace, most_spans: float) -> StateSpace:
    """Add the clocks: from the longest recall to where being overdue counts no more.

    Parameters
    ----------
    sizes : StateSpace
        Kinds and sizes.
    pace : Pace
    most_spans : float
        Promised spans beyond which being overdue adds no points.

    Returns
    -------
    StateSpace
    """
    longest = max(pace.years_with_none.max(), pace.years_with_work.max())
    latest = int(np.ceil(most_spans * pace.grace_years.max()))
    return replace(sizes, first_clock=-latest, last_clock=int(np.ceil(longest)) - 1)
