"""Priority: what a visit in this period is worth, with its parts in the open.

The points are a scale of our own, in tables; the weights are settings. What
is lost by not coming leads; overdue promises, what stands below, and
requests are added.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.assessment import PARTS_OF_PRIORITY
from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.defects import Findings
from forestcycle.practice.tables import Column, load_table
from forestcycle.settings.practice import Weights

POINT_COLUMNS = {"part": Column(once=True), "value": Column("number", least=0)}
TARGET_COLUMNS = {"target": Column(once=True), "weight": Column("number", least=0, most=1)}
WEIGHT_CHANGE = 0.2


@dataclass(frozen=True)
class Points:
    """The scale of the priority, from ``priority.csv``."""

    waiting: float
    waiting_years: float
    per_minute_saved: float
    most_minutes_saved: float
    overdue: float
    most_overdue_spans: float
    target: float
    request: float
    mandatory: float
    past_correcting_loss: float


POINT_NAMES = {
    "waiting": "waiting points",
    "waiting_years": "waiting years",
    "per_minute_saved": "points per minute saved",
    "most_minutes_saved": "most minutes saved",
    "overdue": "overdue points",
    "most_overdue_spans": "most overdue spans",
    "target": "target points",
    "request": "request points",
    "mandatory": "mandatory points",
    "past_correcting_loss": "past correcting loss",
}


def load_points(*, folder: Path | None = None) -> Points:
    """Load ``priority.csv``.

    Parameters
    ----------
    folder : Path, optional
        With the city's own tables.

    Returns
    -------
    Points
    """
    table = load_table("priority", POINT_COLUMNS, folder=folder).set_index("part")["value"]
    return Points(**{field.name: float(table[POINT_NAMES[field.name]]) for field in fields(Points)})


def load_target_weights(*, folder: Path | None = None) -> Mapping[str, float]:
    """Load ``targets.csv``: how much each target counts, 0..1.

    Parameters
    ----------
    folder : Path, optional
        With the city's own tables.

    Returns
    -------
    mapping of str to float
    """
    table = load_table("targets", TARGET_COLUMNS, folder=folder)
    return dict(zip(table["target"], table["weight"], strict=True))


@dataclass(frozen=True)
class Parts:
    """Weighted parts of the priority, one entry per tree; they add up to it."""

    waiting: FloatArray
    overdue: FloatArray
    target: FloatArray
    request: FloatArray

    @property
    def total(self) -> FloatArray:
        """The priority."""
        return self.waiting + self.overdue + self.target + self.request


def share_lost(
    findings: Findings,
    catalogue: Catalogue,
    years_left: FloatArray,
    points: Points,
    trees: int,
) -> FloatArray:
    """Return how much of what a visit can achieve is lost by waiting, per tree.

    A fault's loss is its severity times the larger of its hazard and the
    share of the remaining time for correcting it that waiting uses up.
    Losses of several faults combine as independent chances do, so that the
    share stays under 1.

    Parameters
    ----------
    findings : Findings
    catalogue : Catalogue
    years_left : ndarray of float64
        One entry per finding, from :func:`forestcycle.practice.waiting.years_left`.
    points : Points
    trees : int

    Returns
    -------
    ndarray of float64
        0..1, one entry per tree.
    """
    used_up = np.minimum(points.waiting_years / np.maximum(years_left, 1e-9), 1)
    structural = np.where(years_left > 0, used_up, points.past_correcting_loss)
    hazard = catalogue.column("hazard", findings.defect)
    loss = findings.severity * np.maximum(hazard, structural)
    kept = np.log1p(-np.minimum(loss, 0.999))
    lost: FloatArray = -np.expm1(np.bincount(findings.tree, weights=kept, minlength=trees))
    return lost


@dataclass(frozen=True)
class Circumstances:
    """What the priority is made of, one entry per tree.

    Attributes
    ----------
    share_lost : ndarray of float64
        0..1, lost by waiting.
    minutes_saved : ndarray of float64
        Crew minutes that the same work would take more after waiting.
    worst_severity : ndarray of float64
        Weightiest fault, 0..1.
    target_weight : ndarray of float64
        0..1, by what stands below.
    ripeness : ndarray of float64
        0 until ``not_before``, 1 from ``due`` on, as of the period's end.
    spans_overdue : ndarray of float64
        Time past ``due`` at the period's end, in spans from due to overdue.
    requested, mandatory : ndarray of bool
    workable : ndarray of bool
        False where there is nothing for a pruning crew to do.
    """

    share_lost: FloatArray
    minutes_saved: FloatArray
    worst_severity: FloatArray
    target_weight: FloatArray
    ripeness: FloatArray
    spans_overdue: FloatArray
    requested: npt.NDArray[np.bool_]
    mandatory: npt.NDArray[np.bool_]
    workable: npt.NDArray[np.bool_]


def priority(circumstances: Circumstances, points: Points, weights: Weights) -> Parts:
    """Return the worth of a visit to each tree in this period, in parts.

    Parameters
    ----------
    circumstances : Circumstances
    points : Points
    weights : Weights

    Returns
    -------
    Parts
    """
    c = circumstances
    ripe = c.ripeness * c.workable
    saved = np.clip(c.minutes_saved, 0, points.most_minutes_saved) * points.per_minute_saved
    overdue = np.clip(c.spans_overdue, 0, points.most_overdue_spans) * points.overdue
    asked = np.where(c.mandatory, points.mandatory, np.where(c.requested, points.request, 0.0))
    return Parts(
        waiting=weights.waiting * ripe * (points.waiting * c.share_lost + saved),
        overdue=weights.overdue * c.workable * overdue,
        target=weights.target * ripe * points.target * c.target_weight * c.worst_severity,
        request=weights.request * asked,
    )


def sensitivity(
    trees: pd.DataFrame, chosen: npt.NDArray[np.bool_], *, change: float = WEIGHT_CHANGE
) -> pd.DataFrame:
    """Say how much of a chosen set would change if a weight moved.

    The chosen trees are compared with those that a simple rule picks, most
    worth per minute first until the chosen trees' minutes are used up, once
    with the present parts and once with one part moved up or down.

    Parameters
    ----------
    trees : DataFrame
        ``minutes`` and the parts of the priority, as in ``Assessment.trees``.
    chosen : ndarray of bool
        Trees in the plan.
    change : float
        0.2 moves each weight by 20 %.

    Returns
    -------
    DataFrame
        ``weight direction share_changed``; the share is over the minutes.
    """
    parts = trees[list(PARTS_OF_PRIORITY)].to_numpy(dtype="float64")
    minutes = trees["minutes"].to_numpy(dtype="float64")
    capacity = float(minutes[chosen].sum())
    before = _best_by_worth_per_minute(parts.sum(axis=1), minutes, capacity)
    rows = []
    for column, name in enumerate(PARTS_OF_PRIORITY):
        for direction in (-1, 1):
            factor = np.ones(len(PARTS_OF_PRIORITY))
            factor[column] = 1 + direction * change
            now = _best_by_worth_per_minute(parts @ factor, minutes, capacity)
            gone = float(minutes[before & ~now].sum())
            total = float(minutes[before].sum())
            share = gone / total if total else 0.0
            rows.append((name.removeprefix("priority_"), direction * change, share))
    return pd.DataFrame(rows, columns=["weight", "direction", "share_changed"])


def _best_by_worth_per_minute(
    worth: FloatArray, minutes: FloatArray, capacity: float
) -> npt.NDArray[np.bool_]:
    rate = np.where(worth > 0, worth / np.maximum(minutes, 1e-9), 0)
    order: IntArray = np.argsort(-rate, kind="stable")
    taken = np.zeros(len(worth), dtype=np.bool_)
    taken[order] = np.cumsum(minutes[order]) <= capacity + 1e-9
    return taken & (worth > 0)
