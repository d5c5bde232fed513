"""Hours of the day and equipment: what the settings' rules ask of each visit."""

import re
from datetime import time
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.errors import Fault
from forestcycle.schedule.verification.files import PlanFiles, faults_where
from forestcycle.settings.rules import EquipmentRule, TreeRule

MINUTES_TOLERANCE = 0.01
END_OF_DAY = 24 * 60.0
HOURS_TEXT = re.compile(r"(\d\d):(\d\d)-(\d\d):(\d\d)( |$)")

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]


def check_hours(plan: PlanFiles) -> list[Fault]:
    """Check that work begins and ends within every rule for its tree, and that crews read so.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stops, ids = plan.stops, plan.stops["tree_id"]
    arrive, leave = stops["arrive_minute"], stops["arrive_minute"] + stops["service_minutes"]
    faults: list[Fault] = []
    for rule in plan.settings.hours:
        bound = _of_stops(plan, _named(plan, rule), unknown=False)
        start, end = _minute(rule.work_from), _minute(rule.work_until)
        outside = (arrive < start - MINUTES_TOLERANCE) | (leave > end + MINUTES_TOLERANCE)
        faults += faults_where(bound & outside, ids, f"is worked outside {rule.name}", "stops")
    opens, shuts = work_hours(plan)
    opens = _of_stops(plan, opens, unknown=0.0)
    shuts = _of_stops(plan, shuts, unknown=END_OF_DAY)
    written = [_read_hours(text) for text in _texts(stops, "hours")]
    expected = list(zip(np.floor(opens), np.floor(shuts), strict=True))
    differs = np.array([a != b for a, b in zip(written, expected, strict=True)], dtype=np.bool_)
    return [*faults, *faults_where(differs, ids, "its hours are not those of its rules", "stops")]


def work_hours(plan: PlanFiles) -> tuple[Floats, Floats]:
    """Tell between which minutes of the day each tree may be worked at.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    opens, shuts : (trees,) float64
        Those of every rule together; the whole day where there is none.
    """
    opens, shuts = np.zeros(len(plan.trees)), np.full(len(plan.trees), END_OF_DAY)
    for rule in plan.settings.hours:
        named = _named(plan, rule)
        opens[named] = np.maximum(opens[named], _minute(rule.work_from))
        shuts[named] = np.minimum(shuts[named], _minute(rule.work_until))
    return opens, shuts


def check_equipment(plan: PlanFiles) -> list[Fault]:
    """Check that every crew brings what its stops need, and that crews read what that is.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    ids, crews = plan.stops["tree_id"], plan.stops["crew"]
    brings = {crew.name: set(crew.equipment) for crew in plan.settings.crews}
    needed = _of_stops(plan, needed_equipment(plan), unknown=frozenset())
    lacks = [
        not needs <= brings.get(str(crew), set()) for needs, crew in zip(needed, crews, strict=True)
    ]
    written = [{*filter(None, text.split("; "))} for text in _texts(plan.stops, "equipment")]
    differs = [a != b for a, b in zip(written, needed, strict=True)]
    return [
        *faults_where(
            np.array(lacks, dtype=np.bool_), ids, "its crew lacks the equipment", "stops"
        ),
        *faults_where(
            np.array(differs, dtype=np.bool_),
            ids,
            "its equipment is not that of its rules",
            "stops",
        ),
    ]


def needed_equipment(plan: PlanFiles) -> NDArray[np.object_]:
    """Name the equipment that the work at each tree needs.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    (trees,) object of frozenset of str
    """
    needed = np.full(len(plan.trees), frozenset(), dtype=object)
    for rule in plan.settings.equipment:
        for row in np.flatnonzero(_named(plan, rule)):
            needed[row] |= {rule.name}
    return needed


def _named(plan: PlanFiles, rule: TreeRule) -> Truths:
    """Whether a rule is about each tree of the trees layer."""
    trees = plan.trees
    named = np.array(trees["tree_id"].isin(rule.tree_ids), dtype=np.bool_)
    if rule.targets:
        named |= np.array(trees["target"].astype(str).isin(rule.targets))
    if rule.streets or rule.street_kmh is not None:
        named |= np.array(trees["street"].fillna("").isin(_streets(plan, rule)))
    if isinstance(rule, EquipmentRule):
        named |= _at_least(trees, "height_m", rule.height_m)
        named |= _at_least(trees, "brush_kg", rule.brush_kg)
    return named


def _streets(plan: PlanFiles, rule: TreeRule) -> set[str]:
    names = set(rule.streets)
    layer = plan.tables.get("streets")
    if rule.street_kmh is not None and layer is not None:
        names |= set(layer.loc[layer["speed_kmh"] >= rule.street_kmh, "street"].dropna())
    return names - {""}


def _at_least(trees: pd.DataFrame, column: str, least: float | None) -> Truths:
    if least is None:
        return np.zeros(len(trees), dtype=np.bool_)
    return np.asarray(trees[column].to_numpy(np.float64) >= least, dtype=np.bool_)


def _of_stops(plan: PlanFiles, of_trees: NDArray[Any], *, unknown: object) -> NDArray[Any]:
    """Take what is known of each tree for each stop; a word for stops without a tree."""
    trees = plan.trees["tree_id"]
    first = ~trees.duplicated().to_numpy()
    row = pd.Index(trees[first]).get_indexer(plan.stops["tree_id"])
    last = np.array([unknown], dtype=of_trees.dtype)
    return np.asarray(np.concatenate([of_trees[first], last])[row])


def _minute(moment: time) -> float:
    return moment.hour * 60 + moment.minute + moment.second / 60


def _texts(stops: pd.DataFrame, column: str) -> list[str]:
    if column not in stops:
        return [""] * len(stops)
    return [str(text) for text in stops[column].fillna("")]


def _read_hours(text: str) -> tuple[float, float]:
    """Minutes of the day in ``09:00-14:00 school hours``; the whole day where there are none."""
    found = HOURS_TEXT.match(text)
    if found is None:
        return 0.0, END_OF_DAY
    start_hour, start, end_hour, end = (int(part) for part in found.groups()[:4])
    return start_hour * 60.0 + start, end_hour * 60.0 + end
