"""A city's trees, counted into cells for the first year and described by state after it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from forestcycle.inventory.schema import Inventory
from forestcycle.outlook.budget import CrewKind
from forestcycle.outlook.facts import KINDS, TreeFacts, tree_facts
from forestcycle.outlook.means import shrunk_means
from forestcycle.outlook.states import (
    CORRECTABLE,
    FAULTS,
    NO_RECORD,
    BoolArray,
    FloatArray,
    IntArray,
    StateSpace,
    state_space,
)
from forestcycle.practice.age_class import BOUND_COLUMNS
from forestcycle.practice.assessment import SKILLS, Assessment
from forestcycle.practice.labour import load_labour
from forestcycle.practice.priority import load_points
from forestcycle.practice.recall import FASTEST, SLOWEST, load_recall
from forestcycle.practice.tables import load_table

MOST_WARDS = 40
OTHER_WARDS, NO_WARD = "other wards", "no ward"
RATE_STEP = 0.05
"""Trees of one cell differ by at most so much (as a share) in worth per minute."""


class Cells(NamedTuple):
    """Trees that are alike in the first year, one entry per cell; means over its trees.

    Attributes
    ----------
    state, ward, skill : (c,) int64
    trees : (c,) float64
        How many.
    worth, minutes, cents, dose_owed, faults : (c,) float64
        ``minutes`` at the tree; ``faults`` is the expected number of
        structural faults that can still be corrected.
    open : (c,) bool
        Whether a visit in the first year is possible and worth something.
    """

    state: IntArray
    ward: IntArray
    skill: IntArray
    trees: FloatArray
    worth: FloatArray
    minutes: FloatArray
    cents: FloatArray
    dose_owed: FloatArray
    faults: FloatArray
    open: BoolArray


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


class Means(NamedTuple):
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
    means : Means
    overdue_points, most_overdue_spans : float
        Weighted points at the end of the promised span, and how many spans count.
    """

    wards: tuple[str, ...]
    overhead: FloatArray
    crew_kinds: tuple[CrewKind, ...]
    states: StateSpace
    cells: Cells
    pace: Pace
    means: Means
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
    pace = _pace(facts, assessment)
    points = load_points(folder=assessment.folder)
    space = _space(pace, assessment, points.most_overdue_spans)
    wards, ward = _wards(inventory)
    skills = np.bitwise_or.reduce([kind.skill for kind in crew_kinds])
    return Stock(
        wards=wards,
        overhead=np.array([overhead.get(name, overhead[""]) for name in wards]),
        crew_kinds=tuple(crew_kinds),
        states=space,
        cells=_cells(facts, assessment, space, ward, pace, int(skills)),
        pace=pace,
        means=_means(facts, assessment, space),
        overdue_points=points.overdue * assessment.practice.weights.overdue,
        most_overdue_spans=points.most_overdue_spans,
    )


def _sizes(assessment: Assessment) -> StateSpace:
    """Lay out kinds and sizes, without any clock yet."""
    bounds = load_table("age_classes", BOUND_COLUMNS, folder=assessment.folder)
    return state_space(KINDS, bounds["from_relative_diameter"].to_numpy(np.float64), (0, 0))


def _size_of(facts: TreeFacts, space: StateSpace) -> IntArray:
    """Size of each tree, held within its age class, which a planting date may decide."""
    size = space.size_of(facts.relative_diameter)
    first = np.searchsorted(space.age_of_size, facts.age_class, side="left")
    last = np.searchsorted(space.age_of_size, facts.age_class, side="right") - 1
    return np.clip(size, first, last).astype(np.int64)


def _space(pace: Pace, assessment: Assessment, most_spans: float) -> StateSpace:
    longest = max(pace.years_with_none.max(), pace.years_with_work.max())
    latest = int(np.ceil(most_spans * pace.grace_years.max()))
    bare = _sizes(assessment)
    return StateSpace(
        bare.kinds, bare.size_from, bare.age_of_size, -latest, int(np.ceil(longest)) - 1
    )


def _pace(facts: TreeFacts, assessment: Assessment) -> Pace:
    space = _sizes(assessment)
    key, shape = (facts.kind, _size_of(facts, space)), space.shape[:2]
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
        outgrows=_outgrows(limit, structural, space, grows),
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


def _outgrows(
    limit: FloatArray, structural: FloatArray, space: StateSpace, grows: FloatArray
) -> FloatArray:
    """Share of the correctable faults that growth takes past correcting, per year.

    Of the faults that can be corrected when a tree enters a size, those whose
    limit lies within that size are outgrown by the time it leaves.
    """
    edges = np.append(space.size_from, np.inf)
    reach = np.array(
        [float(structural[limit >= edge].sum()) for edge in edges[:-1]] + [0.0], dtype=np.float64
    )
    within = np.divide(
        reach[:-1] - reach[1:], reach[:-1], out=np.ones(len(reach) - 1), where=reach[:-1] > 0
    )
    return np.asarray(grows * within, dtype=np.float64)


def ward_names(table: pd.DataFrame) -> "pd.Series[str]":
    """Return the ward of each row, with a word for trees that lie in none.

    Parameters
    ----------
    table : DataFrame
        With ``ward``.

    Returns
    -------
    Series of str
    """
    return table["ward"].astype("str").replace("", NO_WARD)


def _wards(inventory: Inventory) -> tuple[tuple[str, ...], IntArray]:
    names = ward_names(inventory.trees)
    counts = names.value_counts()
    if len(counts) > MOST_WARDS:
        names = names.where(names.isin(counts.index[: MOST_WARDS - 1]), OTHER_WARDS)
    found = pd.Categorical(names)
    return tuple(map(str, found.categories)), np.asarray(found.codes, dtype=np.int64)


def _cells(
    facts: TreeFacts,
    assessment: Assessment,
    space: StateSpace,
    ward: IntArray,
    pace: Pace,
    skills: int,
) -> Cells:
    table = assessment.trees
    clock = np.ceil(facts.years_to_due).astype(np.int64)
    size = _size_of(facts, space)
    state = space.index(facts.kind, size, facts.fault, clock)
    worth = table["priority"].to_numpy(np.float64)
    minutes = table["minutes"].to_numpy(np.float64)
    skill = np.asarray(table["skill"].astype(str).map(SKILLS.index), dtype=np.int64)
    in_time = (table["not_before"] <= pd.Timestamp(assessment.year_end)).to_numpy(np.bool_)
    has_skill = ((1 << skill) & skills) > 0
    can = (worth > 0) & (minutes > 0) & in_time & has_skill
    rate = np.where(can, worth / np.maximum(minutes, 1e-9), 1.0)
    step = np.round(np.log(np.maximum(rate, 1e-6)) / np.log1p(RATE_STEP)).astype(np.int64)
    correctable = np.zeros(len(FAULTS))
    correctable[CORRECTABLE] = 1
    hidden = pace.prior_share * pace.correctable
    faults = np.where(
        facts.fault == NO_RECORD,
        hidden[facts.kind, size] * facts.built_up,
        correctable[facts.fault],
    )
    frame = pd.DataFrame(
        {
            "state": state,
            "ward": ward,
            "skill": skill,
            "open": can,
            "step": step,
            "trees": 1.0,
            "worth": worth,
            "minutes": minutes,
            "cents": table["cost_cents"].to_numpy(np.float64),
            "dose_owed": table["dose_needed"].to_numpy(np.float64),
            "faults": faults,
        }
    )
    keys = ["state", "ward", "skill", "open", "step"]
    summed = frame.groupby(keys, sort=True).sum().reset_index()
    trees = summed["trees"].to_numpy(np.float64)
    return Cells(
        state=summed["state"].to_numpy(np.int64),
        ward=summed["ward"].to_numpy(np.int64),
        skill=summed["skill"].to_numpy(np.int64),
        trees=trees,
        worth=summed["worth"].to_numpy(np.float64) / trees,
        minutes=summed["minutes"].to_numpy(np.float64) / trees,
        cents=summed["cents"].to_numpy(np.float64) / trees,
        dose_owed=summed["dose_owed"].to_numpy(np.float64) / trees,
        faults=summed["faults"].to_numpy(np.float64) / trees,
        open=summed["open"].to_numpy(np.bool_),
    )


def _means(facts: TreeFacts, assessment: Assessment, space: StateSpace) -> Means:
    key = (facts.kind, _size_of(facts, space), facts.fault)
    shape = space.shape[:3]
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

    return Means(
        points=shrunk_means(facts.points * (ripe > 0), ripe, key, shape),
        dose_owed=shrunk_means(owed, facts.built_up, key, shape),
        skill_share=np.stack(
            [shrunk_means(mine, visited, key, shape) for mine in with_skill], axis=-1
        ),
        minutes=np.maximum(by_skill(minutes), look),
        cents=by_skill(cents),
    )
