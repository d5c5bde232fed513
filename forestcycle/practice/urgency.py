"""How urgent each tree is: its recall, and what a visit in this period is worth."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from forestcycle.inventory.schema import Inventory
from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.defects import Findings
from forestcycle.practice.effort import minutes_of_all_work
from forestcycle.practice.labour import Labour
from forestcycle.practice.priority import (
    Circumstances,
    Parts,
    Points,
    load_points,
    load_target_weights,
    priority,
    share_lost,
)
from forestcycle.practice.programme import Programme, per_tree
from forestcycle.practice.recall import Recall, at_once, load_recall, recall
from forestcycle.practice.requests import OpenRequests, open_requests
from forestcycle.practice.standing import Standing
from forestcycle.practice.waiting import after, years_left
from forestcycle.settings.practice import Practice


@dataclass(frozen=True)
class Urgency:
    """Recall and priority of every tree, and what they rest on.

    Attributes
    ----------
    recall : Recall
    requests : OpenRequests
    worst : ndarray of int64
        Weightiest finding that still asks for work, -1 for none.
    circumstances : Circumstances
    points : Points
    parts : Parts
    """

    recall: Recall
    requests: OpenRequests
    worst: IntArray
    circumstances: Circumstances
    points: Points
    parts: Parts


def urgency(
    inventory: Inventory,
    practice: Practice,
    standing: Standing,
    programme: Programme,
    labour: Labour,
    *,
    on: date,
    year_end: date,
    folder: Path | None = None,
) -> Urgency:
    """Work out when each tree should be visited and what that is worth.

    Parameters
    ----------
    inventory : Inventory
    practice : Practice
    standing : Standing
    programme : Programme
    labour : Labour
    on, year_end : date
        Day of the assessment, and last day of the period.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Urgency
    """
    due = _recall(standing, programme, on, folder)
    requests = open_requests(inventory.requests, standing.tree_ids, programme.history.last_visit)
    points = load_points(folder=folder)
    answered = answered_findings(programme)
    findings = programme.findings.take(answered)
    worst = _worst(findings, answered, programme.catalogue, len(standing))
    weights = load_target_weights(folder=folder)
    circumstances = Circumstances(
        share_lost=_share_lost(findings, standing, programme, points),
        minutes_saved=_minutes_saved(findings, standing, programme, points, labour, practice),
        worst_severity=np.append(programme.findings.severity, 0.0)[worst],
        target_weight=inventory.trees["target"].astype("str").map(weights).to_numpy("float64"),
        ripeness=_ripeness(due, year_end),
        spans_overdue=_spans_overdue(due, year_end),
        requested=requests.requested,
        mandatory=requests.mandatory,
        workable=np.bincount(programme.items.tree, minlength=len(standing)) > 0,
    )
    parts = priority(circumstances, points, practice.weights)
    return Urgency(due, requests, worst, circumstances, points, parts)


def answered_findings(programme: Programme) -> IntArray:
    """Return the findings that still have work.

    Parameters
    ----------
    programme : Programme

    Returns
    -------
    (k,) int64
        Positions in ``programme.findings``.
    """
    finding = programme.items.finding
    with_work = np.zeros(len(programme.findings), dtype=np.bool_)
    with_work[finding[finding >= 0]] = True
    return np.flatnonzero(with_work)


def _recall(standing: Standing, programme: Programme, on: date, folder: Path | None) -> Recall:
    items = programme.items
    usual = recall(
        load_recall(folder=folder),
        on=on,
        age_class=standing.age_class,
        state=standing.state,
        growth_cm_per_year=standing.growth_cm_per_year,
        planted_on=standing.planted_on,
        last_visit=programme.history.last_visit,
        last_dose=np.nan_to_num(programme.history.last_dose),
        usual_dose=programme.rules.sound_usual,
        remaining_dose=per_tree(items.tree, items.dose, len(standing)),
    )
    return at_once(usual, programme.urgent_grace_years, on=on)


def _worst(findings: Findings, answered: IntArray, catalogue: Catalogue, trees: int) -> IntArray:
    pressure = findings.severity * catalogue.column("weight", findings.defect)
    order = np.lexsort((pressure, findings.tree))
    worst = np.full(trees, -1, dtype=np.int64)
    worst[findings.tree[order]] = answered[order]
    return worst


def _share_lost(
    findings: Findings, standing: Standing, programme: Programme, points: Points
) -> FloatArray:
    left = years_left(
        findings,
        programme.catalogue,
        programme.wounds,
        dbh_cm=standing.dbh_cm,
        growth_cm_per_year=standing.growth_cm_per_year,
        mature_dbh_cm=standing.mature_dbh_cm,
    )
    return share_lost(findings, programme.catalogue, left, points, len(standing))


def _minutes_saved(
    findings: Findings,
    standing: Standing,
    programme: Programme,
    points: Points,
    labour: Labour,
    practice: Practice,
) -> FloatArray:
    """Crew minutes that the same work would take more after waiting."""
    later_cm = standing.dbh_after(points.waiting_years)
    later = after(
        points.waiting_years,
        findings,
        programme.catalogue,
        programme.wounds,
        dbh_cm=standing.dbh_cm,
        later_dbh_cm=later_cm,
        mature_dbh_cm=standing.mature_dbh_cm,
    )
    trees, items = len(standing), programme.items
    dose = per_tree(items.tree, items.dose, trees)
    count = np.bincount(items.tree, minlength=trees)
    number = np.bincount(findings.tree, minlength=trees)
    worse = per_tree(findings.tree, later.dose_factor, trees) / np.maximum(number, 1)
    later_dose = np.minimum(dose * np.maximum(worse, 1), 1)
    people = practice.people_per_crew
    then = minutes_of_all_work(later_cm, later_dose, count, labour, people_per_crew=people)
    now = minutes_of_all_work(standing.dbh_cm, dose, count, labour, people_per_crew=people)
    return then - now


def _ripeness(due: Recall, year_end: date) -> FloatArray:
    end = np.datetime64(year_end, "ns")
    open_days = (end - due.not_before) / np.timedelta64(1, "D") + 1
    span = np.maximum((due.due - due.not_before) / np.timedelta64(1, "D") + 1, 1)
    return np.clip(open_days / span, 0, 1)


def _spans_overdue(due: Recall, year_end: date) -> FloatArray:
    late = (np.datetime64(year_end, "ns") - due.due) / np.timedelta64(1, "D")
    span = np.maximum((due.overdue_after - due.due) / np.timedelta64(1, "D"), 1)
    return np.maximum(late / span, 0)
