"""What the outlook needs to know of each tree, taken from the assessment."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.inventory.schema import Inventory
from forestcycle.outlook.faults import (
    GRAVE_1,
    GRAVE_FROM,
    NO_RECORD,
    PAST,
    SLIGHT_1,
    UPKEEP,
)
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray
from forestcycle.practice.age_class import DAYS_PER_YEAR
from forestcycle.practice.assessment import AGE_CLASSES, Assessment
from forestcycle.practice.catalogue import Catalogue, load_catalogue
from forestcycle.practice.conductors import needs_line_clearance
from forestcycle.practice.prior import PRIOR_COLUMNS
from forestcycle.practice.species import HABITS, SIZES, match_species
from forestcycle.practice.tables import load_table
from forestcycle.practice.wounds import load_wounds

OUTGROWN_FROM = 2.0
"""A fault that is corrected up to twice the mature diameter is never outgrown: it is upkeep."""
KINDS = tuple(
    f"{size}{place}"
    for size in (*(f"{name} trees" for name in SIZES), "palms")
    for place in ("", " near conductors")
)
PALMS = len(SIZES)


@dataclass(frozen=True)
class TreeFacts:
    """Facts of every tree, one entry each.

    Attributes
    ----------
    kind : ndarray of int64
        Position in ``KINDS``: by the size that the species reaches, palms
        apart, and by whether only crews qualified for line clearance may work.
    age_class : ndarray of int64
    relative_diameter, growth : ndarray of float64
        Of the mature diameter; growth per year.
    fault : ndarray of int64
        Position in ``FAULTS``.
    outgrown_at : ndarray of float64
        Relative diameter at which the tree's structural fault can no longer
        be corrected; NaN for trees without one.
    years_to_due : ndarray of float64
        From the end of the first year, negative for what was due before.
    ripeness : ndarray of float64
        As in :class:`forestcycle.practice.priority.Circumstances`.
    built_up : ndarray of float64
        0..1, how far a stated prior has built up since the last visit; 1
        where the faults are on record.
    prior_share, prior_years : ndarray of float64
        Chance that a tree of its age and habit has a structural fault, and
        the years over which it builds up.
    worsening : ndarray of float64
        Of the worst fault's severity per year.
    points : ndarray of float64
        Priority for what is lost by waiting and for what stands below.
    """

    kind: IntArray
    age_class: IntArray
    relative_diameter: FloatArray
    growth: FloatArray
    fault: IntArray
    outgrown_at: FloatArray
    years_to_due: FloatArray
    ripeness: FloatArray
    built_up: FloatArray
    prior_share: FloatArray
    prior_years: FloatArray
    worsening: FloatArray
    points: FloatArray


def tree_facts(inventory: Inventory, assessment: Assessment) -> TreeFacts:
    """Gather the facts of every tree.

    Parameters
    ----------
    inventory : Inventory
    assessment : Assessment
        Of the same trees.

    Returns
    -------
    TreeFacts
    """
    table, folder = assessment.trees, assessment.folder
    catalogue = load_catalogue(folder=folder)
    match = match_species(inventory.trees["species"], folder=folder)
    age_class = np.asarray(table["age_class"].cat.codes, dtype=np.int64)
    habit = _codes(match.column("habit"), HABITS)
    mature = table["mature_dbh_cm"].to_numpy(np.float64)
    prior = table["defects_are_prior"].to_numpy(np.bool_)
    outgrown_at = _outgrown_at(assessment, catalogue, mature)
    relative = table["relative_diameter"].to_numpy(np.float64)
    severity = table["severity"].to_numpy(np.float64)
    share, years, built_up = _priors(assessment, catalogue, age_class, habit, prior)
    worst = table["worst_defect"].map({name: i for i, name in enumerate(catalogue.names)})
    speed = np.append(catalogue.defects["worsens_per_year"].to_numpy(np.float64), 0.0)
    worst_code = np.asarray(worst.fillna(-1), dtype=np.int64)
    points = table["priority_waiting"] + table["priority_target"]
    return TreeFacts(
        kind=_kind(inventory, match.column("size"), habit),
        age_class=age_class,
        relative_diameter=relative,
        growth=table["growth_cm_per_year"].to_numpy(np.float64) / mature,
        fault=_fault(table, prior, severity, relative, outgrown_at),
        outgrown_at=outgrown_at,
        years_to_due=_years(table["due"], assessment),
        ripeness=_ripeness(table, assessment),
        built_up=built_up,
        prior_share=share,
        prior_years=years,
        worsening=speed[worst_code] * np.maximum(severity, 0.25),
        points=points.to_numpy(np.float64),
    )


def is_structural(catalogue: Catalogue) -> BoolArray:
    """Say which defects of the catalogue a tree outgrows: its structural faults.

    Parameters
    ----------
    catalogue : Catalogue

    Returns
    -------
    (d,) bool
        By row of ``catalogue.defects``.
    """
    return (catalogue.defects["correctable_to"] < OUTGROWN_FROM).to_numpy(np.bool_)


def _kind(inventory: Inventory, size: NDArray[np.object_], habit: IntArray) -> IntArray:
    near = needs_line_clearance(inventory.trees["conductors"])
    big = np.where(habit == HABITS.index("palm"), PALMS, _codes(size, SIZES))
    return np.asarray(big * 2 + near, dtype=np.int64)


def _fault(
    table: pd.DataFrame,
    prior: BoolArray,
    severity: FloatArray,
    relative: FloatArray,
    outgrown_at: FloatArray,
) -> IntArray:
    visits = table["visits_needed"].to_numpy(np.int64)
    structural = np.isfinite(outgrown_at)
    slight = SLIGHT_1 + np.clip(visits, 1, 2) - 1
    grave = GRAVE_1 + np.clip(visits, 1, 3) - 1
    chosen = [prior | (visits == 0), ~structural, relative > outgrown_at, severity < GRAVE_FROM]
    fault = np.select(chosen, [NO_RECORD, UPKEEP, PAST, slight], default=grave)
    return np.asarray(fault, dtype=np.int64)


def _outgrown_at(assessment: Assessment, catalogue: Catalogue, mature_cm: FloatArray) -> FloatArray:
    """Return the largest relative diameter at which one of a tree's faults is still corrected.

    The cut may not pass the largest that closes, nor the tree the size up to
    which the catalogue corrects the fault.
    """
    largest_cm = load_wounds(folder=assessment.folder).largest_cm
    code = assessment.work["defect"].map({name: i for i, name in enumerate(catalogue.names)})
    rows = code.notna().to_numpy()
    defect = np.asarray(code[rows], dtype=np.int64)
    tree = np.asarray(assessment.work["tree"], dtype=np.int64)[rows]
    kept = is_structural(catalogue)[defect]
    defect, tree = defect[kept], tree[kept]
    share = np.maximum(catalogue.column("branch_share", defect), 1e-6)
    limit = catalogue.column("correctable_to", defect)
    most = np.full(len(mature_cm), -np.inf)
    np.maximum.at(most, tree, np.minimum(limit, largest_cm / (share * mature_cm[tree])))
    return np.where(np.isfinite(most), most, np.nan)


def _priors(
    assessment: Assessment,
    catalogue: Catalogue,
    age_class: IntArray,
    habit: IntArray,
    prior: BoolArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return share and years of the structural priors, and how far each has built up."""
    table = load_table("priors", PRIOR_COLUMNS, folder=assessment.folder)
    names = {name: i for i, name in enumerate(catalogue.names)}
    structural = is_structural(catalogue)[table["defect"].map(names).to_numpy(np.int64)]
    free, years = np.ones((len(AGE_CLASSES), len(HABITS))), np.ones((len(AGE_CLASSES), len(HABITS)))
    full: dict[tuple[int, int, str], float] = {}
    share, to_full = (
        table["share"].to_numpy(np.float64),
        table["years_to_full"].to_numpy(np.float64),
    )
    expected = share * table["severity"].to_numpy(np.float64)
    for line, defect in enumerate(table["defect"].astype(str)):
        age = AGE_CLASSES.index(str(table["age_class"].iloc[line]))
        form = HABITS.index(str(table["habit"].iloc[line]))
        full[age, form, defect] = float(expected[line])
        if structural[line]:
            free[age, form] *= 1 - share[line]
            years[age, form] = max(years[age, form], to_full[line])
    worst = assessment.trees["worst_defect"].to_numpy()
    severity = assessment.trees["severity"].to_numpy(np.float64)
    kinds = pd.MultiIndex.from_arrays([age_class, habit, worst])
    wanted = pd.Series(full).reindex(kinds).to_numpy(np.float64)
    grown = np.where(np.isfinite(wanted) & prior, severity / np.maximum(wanted, 1e-9), 1.0)
    return 1 - free[age_class, habit], years[age_class, habit], np.clip(grown, 0.0, 1.0)


def _years(day: "pd.Series[pd.Timestamp]", assessment: Assessment) -> FloatArray:
    """Return years from the first year's end until a day."""
    end = np.datetime64(assessment.year_end, "ns")
    days = (day.to_numpy(dtype="datetime64[ns]") - end) / np.timedelta64(1, "D")
    return np.asarray(days / DAYS_PER_YEAR, dtype=np.float64)


def _ripeness(table: pd.DataFrame, assessment: Assessment) -> FloatArray:
    opens, due = (_years(table[day], assessment) * DAYS_PER_YEAR for day in ("not_before", "due"))
    ripeness: FloatArray = np.clip((1 - opens) / np.maximum(due - opens + 1, 1), 0, 1)
    return ripeness


def _codes(words: NDArray[np.object_], known: tuple[str, ...]) -> IntArray:
    return np.asarray(pd.Categorical(words, categories=list(known)).codes, dtype=np.int64)
