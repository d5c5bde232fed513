"""How fast trees of each kind and size grow, worsen, and fall due again."""

from typing import NamedTuple

import numpy as np

from forestcycle.outlook.facts import TreeFacts
from forestcycle.outlook.faults import NO_RECORD
from forestcycle.outlook.means import shrunk_means
from forestcycle.outlook.states import FloatArray, IntArray, StateSpace
from forestcycle.practice.assessment import Assessment
from forestcycle.practice.recall import FASTEST, SLOWEST, load_recall


class Pace(NamedTuple):
    """Yearly rates and shares by kind and size, shape (kinds, sizes), and spans by size.

    Attributes
    ----------
    grows : share that moves on to the next size
    outgrows : share of the correctable structural faults that go past correcting
    worsens : share of the slight faults that become grave
    prior_share, prior_years : chance of an unrecorded structural fault, and
        the years over which it builds up
    correctable : share of unrecorded structural faults that can be corrected
    takes_two : share of trees without record whose work takes a second visit
    years_with_work, years_with_none : recall from a visit until due
    least_years : (sizes,) pause after a visit
    grace_years : (sizes,) from due to overdue
    """

    grows: FloatArray
    outgrows: FloatArray
    worsens: FloatArray
    prior_share: FloatArray
    prior_years: FloatArray
    correctable: FloatArray
    takes_two: FloatArray
    years_with_work: FloatArray
    years_with_none: FloatArray
    least_years: FloatArray
    grace_years: FloatArray


def pace_of_trees(
    facts: TreeFacts, assessment: Assessment, space: StateSpace, size: IntArray
) -> Pace:
    """Take the mean pace of the city's trees, few of a kind drawn towards wider means.

    Parameters
    ----------
    facts : TreeFacts
    assessment : Assessment
        Of the same trees.
    space : StateSpace
        Kinds and sizes; its clock does not matter.
    size : (n,) int64
        Of each tree, from :func:`forestcycle.outlook.tree_sizes.size_of_trees`.

    Returns
    -------
    Pace
    """
    key, shape = (facts.kind, size), space.shape[:2]
    every = np.ones(len(facts.kind))

    def mean(total: FloatArray, weight: FloatArray = every) -> FloatArray:
        return shrunk_means(total * weight, weight, key, shape)

    recall = load_recall(folder=assessment.folder)
    age = space.age_of_size
    usual, growth = recall.usual_growth[facts.age_class], assessment.trees["growth_cm_per_year"]
    quick = (usual / np.maximum(growth.to_numpy(np.float64), 0.01)) ** 0.25
    quick = mean(np.clip(quick, FASTEST, SLOWEST))
    structural = np.isfinite(facts.outgrown_at).astype(np.float64)
    limit = np.nan_to_num(facts.outgrown_at)
    unrecorded = (facts.fault == NO_RECORD).astype(np.float64)
    two = (assessment.trees["visits_needed"].to_numpy(np.int64) >= 2).astype(np.float64)
    grows = mean(facts.growth) / space.size_width
    return Pace(
        grows=grows,
        outgrows=np.asarray(grows * outgrown_within(limit, structural, space), dtype=np.float64),
        worsens=mean(facts.worsening, structural) / 0.5,
        prior_share=mean(facts.prior_share),
        prior_years=mean(facts.prior_years),
        correctable=mean((facts.relative_diameter <= limit).astype(np.float64), structural),
        takes_two=mean(two, unrecorded),
        years_with_work=np.maximum(recall.years_with_work[age] * quick, recall.least_years[age]),
        years_with_none=np.maximum(recall.years_with_none[age] * quick, recall.least_years[age]),
        least_years=recall.least_years[age],
        grace_years=recall.grace_years[age],
    )


def outgrown_within(limit: FloatArray, structural: FloatArray, space: StateSpace) -> FloatArray:
    """Return the share of the correctable faults that trees outgrow in passing through a size.

    Of the faults that can be corrected when a tree enters a size, those whose
    limit lies within that size are outgrown by the time it leaves.

    Parameters
    ----------
    limit : (n,) float64
        Relative diameter of each tree at which its fault can no longer be corrected.
    structural : (n,) float64
        1 for trees that have such a fault, else 0.
    space : StateSpace

    Returns
    -------
    (sizes,) float64
        1 where no fault can be corrected any more.
    """
    edges = np.append(space.size_from, np.inf)
    reach = np.array(
        [float(structural[limit >= edge].sum()) for edge in edges[:-1]] + [0.0], dtype=np.float64
    )
    return np.divide(
        reach[:-1] - reach[1:], reach[:-1], out=np.ones(len(reach) - 1), where=reach[:-1] > 0
    )
