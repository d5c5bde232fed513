"""Crew minutes, brush and skill of visits, from the work they hold."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.inventory.schema import Inventory
from forestcycle.practice.assessment import SKILLS
from forestcycle.practice.catalogue import FloatArray, IntArray
from forestcycle.practice.conductors import needs_line_clearance
from forestcycle.practice.labour import GROUND, Labour, skill_needed, visit_labour
from forestcycle.practice.programme import Programme, per_tree
from forestcycle.practice.standing import Standing
from forestcycle.practice.words import from_codes

WITHOUT_TRUCK = ("park", "playground")


@dataclass(frozen=True)
class Effort:
    """What the visits ask of crews.

    Attributes
    ----------
    item_minutes : ndarray of float64
        Crew minutes of each work item; they add up over a visit.
    minutes, brush_kg : ndarray of float64
        Of each tree's next visit; 0 where it needs none.
    skill : Categorical
        Least skill of each tree's next visit.
    all_minutes : ndarray of float64
        Of all visits that the tree's work needs.
    """

    item_minutes: FloatArray
    minutes: FloatArray
    brush_kg: FloatArray
    skill: pd.Categorical
    all_minutes: FloatArray


def effort(
    inventory: Inventory,
    standing: Standing,
    programme: Programme,
    labour: Labour,
    *,
    people_per_crew: int,
) -> Effort:
    """Estimate crew minutes, brush and skill of every visit.

    The work's height is the highest reach of a visit's items, as shares of
    the tree's height in the catalogue.

    Parameters
    ----------
    inventory : Inventory
    standing : Standing
    programme : Programme
    labour : Labour
    people_per_crew : int

    Returns
    -------
    Effort
    """
    items = programme.items
    new = np.ones(len(items), dtype=np.bool_)
    new[1:] = (np.diff(items.tree) != 0) | (np.diff(items.visit) != 0)
    first, visit = np.flatnonzero(new), np.cumsum(new) - 1
    tree = items.tree[first]
    skill = _skill(inventory, standing, programme, labour, visit, tree)
    weighted = items.dose + effort_dose(programme)
    labours = visit_labour(
        standing.dbh_cm[tree],
        per_tree(visit, weighted, len(first)),
        np.bincount(visit, minlength=len(first)),
        skill,
        labour=labour,
        people_per_crew=people_per_crew,
    )
    share = weighted + labour.reference_dose / 10
    share = share / per_tree(visit, share, len(first))[visit]
    next_visit = items.visit[first] == 1
    return Effort(
        item_minutes=labours.minutes[visit] * share,
        minutes=per_tree(tree[next_visit], labours.minutes[next_visit], len(standing)),
        brush_kg=per_tree(tree[next_visit], labours.brush_kg[next_visit], len(standing)),
        skill=from_codes(_spread(skill, tree, next_visit, len(standing)), SKILLS),
        all_minutes=per_tree(tree, labours.minutes, len(standing)),
    )


def effort_dose(programme: Programme) -> FloatArray:
    """Return the dose that takes as long as each item does beyond its own dose.

    Parameters
    ----------
    programme : Programme

    Returns
    -------
    (k,) float64
        Of each work item, 0..1.
    """
    items, findings = programme.items, programme.findings
    severity = np.append(findings.severity, 0.0)[items.finding]
    extra: FloatArray = programme.catalogue.actions["effort"].to_numpy()[items.action] * severity
    return extra


def minutes_of_all_work(
    dbh_cm: FloatArray,
    dose: FloatArray,
    items: IntArray,
    labour: Labour,
    *,
    people_per_crew: int,
) -> FloatArray:
    """Return crew minutes of all a tree's work done at once from the ground.

    For comparing one tree's sizes and doses with each other, free of the
    jumps that skills and numbers of visits bring.

    Parameters
    ----------
    dbh_cm, dose : ndarray of float64
    items : ndarray of int64
    labour : Labour
    people_per_crew : int

    Returns
    -------
    ndarray of float64
    """
    ground = from_codes(np.full(len(dbh_cm), GROUND, dtype=np.int8), SKILLS)
    return visit_labour(
        dbh_cm, dose, items, ground, labour=labour, people_per_crew=people_per_crew
    ).minutes


def _skill(
    inventory: Inventory,
    standing: Standing,
    programme: Programme,
    labour: Labour,
    visit: IntArray,
    tree: IntArray,
) -> pd.Categorical:
    items = programme.items
    reach = np.append(programme.catalogue.defects["reach"].to_numpy(dtype="float64"), 0.0)
    highest = np.zeros(len(tree))
    np.maximum.at(highest, visit, reach[items.defect] * standing.height_m[items.tree])
    near = needs_line_clearance(inventory.trees["conductors"])
    truck = ~inventory.trees["target"].isin(WITHOUT_TRUCK).to_numpy(dtype=bool)
    return skill_needed(highest, near[tree], truck_access=truck[tree], labour=labour)


def _spread(
    skill: pd.Categorical, tree: IntArray, next_visit: npt.NDArray[np.bool_], trees: int
) -> npt.NDArray[np.int8]:
    codes = np.full(trees, GROUND, dtype=np.int8)
    codes[tree[next_visit]] = skill.codes[next_visit]
    return codes
