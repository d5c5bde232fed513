"""What a visit is like in each state, from the second year on: means over the city's trees."""

from typing import NamedTuple

import numpy as np

from forestcycle.outlook.facts import TreeFacts
from forestcycle.outlook.means import shrunk_means
from forestcycle.outlook.states import FloatArray, IntArray, StateSpace
from forestcycle.practice.assessment import SKILLS, Assessment
from forestcycle.practice.labour import load_labour


class VisitMeans(NamedTuple):
    """Means of a visit by kind, size and fault, shape (kinds, sizes, faults).

    Attributes
    ----------
    points : priority besides what is overdue, once ripe and built up
    dose_owed : share of live crown that all work would take
    skill_share : (kinds, sizes, faults, skills) share of the visits by skill
    minutes : (kinds, sizes, faults, skills) crew minutes at the tree
    cents : (kinds, sizes, faults, skills) direct cost
    """

    points: FloatArray
    dose_owed: FloatArray
    skill_share: FloatArray
    minutes: FloatArray
    cents: FloatArray


def means_of_visits(
    facts: TreeFacts, assessment: Assessment, space: StateSpace, size: IntArray
) -> VisitMeans:
    """Take the means of the city's visits, few of a kind drawn towards wider means.

    Parameters
    ----------
    facts : TreeFacts
    assessment : Assessment
        Of the same trees.
    space : StateSpace
    size : (n,) int64
        Of each tree, from :func:`forestcycle.outlook.tree_sizes.size_of_trees`.

    Returns
    -------
    VisitMeans
        No visit is shorter than a look at the tree.
    """
    key, shape = (facts.kind, size, facts.fault), space.shape[:3]
    table = assessment.trees
    minutes = table["minutes"].to_numpy(np.float64)
    visited = (minutes > 0).astype(np.float64)
    skill = table["skill"].astype(str).map(SKILLS.index).to_numpy(np.int64)
    ripe = facts.ripeness * facts.built_up * visited
    with_skill = [visited * (skill == number) for number in range(len(SKILLS))]
    labour = load_labour(folder=assessment.folder)
    look = labour.inspection_minutes + labour.ground_setup_minutes
    cents = table["cost_cents"].to_numpy(np.float64)
    owed = table["dose_needed"].to_numpy(np.float64)

    def by_skill(total: FloatArray) -> FloatArray:
        means = [shrunk_means(total * mine, mine, key, shape) for mine in with_skill]
        return np.stack(means, axis=-1)

    return VisitMeans(
        points=shrunk_means(facts.points * (ripe > 0), ripe, key, shape),
        dose_owed=shrunk_means(owed, facts.built_up, key, shape),
        skill_share=np.stack(
            [shrunk_means(mine, visited, key, shape) for mine in with_skill], axis=-1
        ),
        minutes=np.maximum(by_skill(minutes), look),
        cents=by_skill(cents),
    )
