"""Where no defect is on record: a stated prior, and a visit that begins with a look."""

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.catalogue import SHARE, Catalogue, FloatArray, IntArray
from forestcycle.practice.defects import Findings
from forestcycle.practice.species import HABITS
from forestcycle.practice.tables import Column, load_table

OVER_STREET, OVER_FOOTWAY = "low limb over street", "low limb over footway"
WITH_FOOTWAY = ("footway", "school", "playground")
PRIOR_COLUMNS = {
    "age_class": Column(words=AGE_CLASSES),
    "habit": Column(words=HABITS),
    "defect": Column(),
    "share": SHARE,
    "severity": SHARE,
    "years_to_full": Column("number", least=0.5),
}


def prior_findings(
    catalogue: Catalogue,
    age_class: IntArray,
    habit: npt.NDArray[np.object_],
    years_since_visit: FloatArray,
    dbh_cm: FloatArray,
    target: npt.NDArray[np.object_],
    *,
    without_record: npt.NDArray[np.bool_],
    folder: Path | None = None,
) -> Findings:
    """State what trees of a kind are expected to need.

    The severity of a prior is an expectation: the share of such trees that
    have the defect times how bad it is where they do. It builds up evenly
    over ``years_to_full`` since the last visit; a tree never visited has it
    in full. A low limb is expected over what stands below, street or
    footway, and over a park it is no fault.

    Parameters
    ----------
    catalogue : Catalogue
    age_class : ndarray of int64
    habit : ndarray of object
        ``decurrent excurrent palm``.
    years_since_visit : ndarray of float64
        NaN where never visited.
    dbh_cm : ndarray of float64
    target : ndarray of object
        What stands below.
    without_record : ndarray of bool
        Trees that get a prior.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Findings

    Raises
    ------
    SettingsError
        If ``priors.csv`` is not as it should be.
    """
    table = load_table("priors", PRIOR_COLUMNS, folder=folder)
    faults = [
        Fault(f"unknown defect {name!r}", "priors.csv", "use a name of defects.csv")
        for name in sorted(set(table["defect"]) - set(catalogue.names))
    ]
    if faults:
        raise SettingsError(faults)
    codes = np.array([catalogue.code(name) for name in table["defect"]], dtype=np.int64)
    expected = (table["share"] * table["severity"]).to_numpy()
    kind = age_class * len(HABITS) + _habit_codes(habit)
    tree, line = _lines_of_trees(table, kind, np.flatnonzero(without_record))
    years = np.where(np.isnan(years_since_visit), np.inf, years_since_visit)[tree]
    grown = np.clip(years / table["years_to_full"].to_numpy()[line], 0, 1)
    severity = expected[line] * grown
    limb, over = codes[line] == catalogue.code(OVER_STREET), target[tree]
    on_footway = limb & np.isin(over, WITH_FOOTWAY)
    defect = np.where(on_footway, catalogue.code(OVER_FOOTWAY), codes[line])
    no_fault = limb & (over == "park")
    found = Findings(
        tree=tree,
        defect=defect,
        severity=severity,
        branch_cm=catalogue.column("branch_share", defect) * dbh_cm[tree],
        branch_m=np.full(len(tree), np.nan),
        position=np.full(len(tree), "", dtype=object),
        observed_on=np.full(len(tree), np.datetime64("NaT"), dtype="datetime64[ns]"),
        prior=np.ones(len(tree), dtype=np.bool_),
    )
    return found.take((severity > 0) & ~no_fault)


def _lines_of_trees(
    table: pd.DataFrame, kind: IntArray, trees: IntArray
) -> tuple[IntArray, IntArray]:
    """Pair each tree with every line of the table for its kind: tree and line, tree by tree."""
    of_line = np.array(
        [
            AGE_CLASSES.index(age) * len(HABITS) + HABITS.index(habit)
            for age, habit in zip(table["age_class"], table["habit"], strict=True)
        ]
    )
    order = np.argsort(of_line, kind="stable")
    first = np.searchsorted(of_line[order], np.arange(len(AGE_CLASSES) * len(HABITS) + 1))
    counts = np.diff(first)[kind[trees]]
    tree = np.repeat(trees, counts)
    within = np.arange(len(tree)) - np.repeat(np.cumsum(counts) - counts, counts)
    return tree, order[first[kind[tree]] + within]


def _habit_codes(habit: npt.NDArray[np.object_]) -> IntArray:
    codes = np.zeros(len(habit), dtype=np.int64)
    for code, name in enumerate(HABITS):
        codes[habit == name] = code
    return codes
