"""The cost of waiting: each tree's work as it would stand in 0, 5, 10 and 15 years."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from forestcycle.practice.age_class import age_classes
from forestcycle.practice.catalogue import FloatArray
from forestcycle.practice.effort import effort_dose, minutes_of_all_work
from forestcycle.practice.labour import Labour
from forestcycle.practice.programme import Programme, limits_and_rules, per_tree
from forestcycle.practice.standing import Standing
from forestcycle.practice.urgency import answered_findings
from forestcycle.practice.visits import VisitRules, pack
from forestcycle.practice.waiting import after
from forestcycle.settings.practice import Practice

YEARS_SHOWN = (0, 5, 10, 15)


def waiting_table(
    standing: Standing,
    programme: Programme,
    labour: Labour,
    practice: Practice,
    *,
    years: Sequence[float] = YEARS_SHOWN,
    folder: Path | None = None,
) -> pd.DataFrame:
    """Say what all trees' work would be after waiting.

    Trunks grow by the published equations, branches keep pace with them,
    faults worsen by the catalogue, and the limits are those of the age class
    that the tree has by then. Recovery and new faults are left out.

    Parameters
    ----------
    standing : Standing
    programme : Programme
    labour : Labour
    practice : Practice
    years : sequence of float
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    DataFrame
        One row per tree with work and year: ``tree years dbh_cm branch_cm
        dose_needed visits_needed minutes closes correctable``. ``branch_cm``
        is the thickest branch at fault, which is the cut that removes it;
        ``closes`` and ``correctable`` hold for all of the tree's faults;
        ``minutes`` are crew minutes of all work, without getting there.
    """
    return pd.concat(
        [_after(standing, programme, labour, practice, span, folder) for span in years],
        ignore_index=True,
    ).sort_values(["tree", "years"], kind="stable", ignore_index=True)


def _after(
    standing: Standing,
    programme: Programme,
    labour: Labour,
    practice: Practice,
    years: float,
    folder: Path | None,
) -> pd.DataFrame:
    trees, items = len(standing), programme.items
    dbh_cm = standing.dbh_after(years) if years else standing.dbh_cm
    later = after(
        years,
        programme.findings,
        programme.catalogue,
        programme.wounds,
        dbh_cm=standing.dbh_cm,
        later_dbh_cm=dbh_cm,
        mature_dbh_cm=standing.mature_dbh_cm,
    )
    factor = np.append(later.dose_factor, 1.0)[items.finding]
    grown = replace(items, dose=np.minimum(items.dose * factor, 1.0))
    packed = pack(grown, programme.catalogue, _rules(standing, practice, dbh_cm, years, folder))
    visits = np.zeros(trees, dtype=np.int64)
    np.maximum.at(visits, packed.tree, packed.visit)
    dose = per_tree(packed.tree, packed.dose, trees)
    weighted = dose + per_tree(items.tree, effort_dose(programme), trees)
    count = np.bincount(items.tree, minlength=trees)
    people = practice.people_per_crew
    minutes = minutes_of_all_work(dbh_cm, weighted, count, labour, people_per_crew=people)
    answered = answered_findings(programme)
    tree = programme.findings.tree[answered]
    branch_cm, closes, correctable = np.zeros(trees), np.ones(trees, bool), np.ones(trees, bool)
    np.maximum.at(branch_cm, tree, later.branch_cm[answered])
    closes[tree[~later.closes[answered]]] = False
    correctable[tree[~later.correctable[answered]]] = False
    with_work = np.flatnonzero(np.bincount(tree, minlength=trees))
    columns = {
        "tree": np.arange(trees),
        "years": np.full(trees, years, dtype=np.float64),
        "dbh_cm": dbh_cm,
        "branch_cm": branch_cm,
        "dose_needed": dose,
        "visits_needed": visits,
        "minutes": minutes,
        "closes": closes,
        "correctable": correctable,
    }
    return pd.DataFrame({name: values[with_work] for name, values in columns.items()})


def _rules(
    standing: Standing,
    practice: Practice,
    dbh_cm: FloatArray,
    years: float,
    folder: Path | None,
) -> VisitRules:
    if not years:
        return limits_and_rules(practice, standing, folder=folder)[1]
    ages = age_classes(dbh_cm, standing.mature_dbh_cm, folder=folder)
    age_class = np.asarray(ages.age_class.codes, dtype=np.int64)
    older = replace(standing, age_class=np.maximum(age_class, standing.age_class))
    return limits_and_rules(practice, older, folder=folder)[1]
