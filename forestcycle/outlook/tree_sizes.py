"""The sizes that a city's trees pass through, and the size of each tree."""

import numpy as np

from forestcycle.outlook.facts import KINDS, TreeFacts
from forestcycle.outlook.states import IntArray, StateSpace, state_space
from forestcycle.practice.age_class import BOUND_COLUMNS
from forestcycle.practice.assessment import Assessment
from forestcycle.practice.tables import load_table


def lay_out_sizes(assessment: Assessment) -> StateSpace:
    """Lay out kinds and sizes by the city's table of age classes, without any clock yet.

    Parameters
    ----------
    assessment : Assessment
        Its folder may hold the city's own ``age_classes.csv``.

    Returns
    -------
    StateSpace
        With a single clock.
    """
    bounds = load_table("age_classes", BOUND_COLUMNS, folder=assessment.folder)
    return state_space(KINDS, bounds["from_relative_diameter"].to_numpy(np.float64), (0, 0))


def size_of_trees(facts: TreeFacts, space: StateSpace) -> IntArray:
    """Return the size of each tree, held within its age class, which a planting date may decide.

    Parameters
    ----------
    facts : TreeFacts
    space : StateSpace

    Returns
    -------
    (n,) int64
        Position in ``space.size_from``.
    """
    size = space.size_of(facts.relative_diameter)
    first = np.searchsorted(space.age_of_size, facts.age_class, side="left")
    last = np.searchsorted(space.age_of_size, facts.age_class, side="right") - 1
    return np.clip(size, first, last).astype(np.int64)
