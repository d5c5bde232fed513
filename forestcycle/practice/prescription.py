"""The work a tree needs, in order."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.conflicts import Resolution
from forestcycle.practice.defects import Findings
from forestcycle.practice.work_items import DOSE_ROUNDING, NO_DEFECT, NO_FINDING, Items
from forestcycle.practice.wounds import Wounds


def work_items(
    resolution: Resolution,
    catalogue: Catalogue,
    age_class: IntArray,
    relative_diameter: FloatArray,
    wounds: Wounds,
) -> Items:
    """List the work that answers each finding, worst fault first.

    Order within a tree: cleaning (it takes little or no live
    crown and makes the tree safe to work in), then the first stage of every
    structural answer, then the second stages; each group by severity times
    the weight of the fault. Live wood thicker than what closes, and faults
    past correcting, are reduced and not removed.

    Parameters
    ----------
    resolution : Resolution
    catalogue : Catalogue
    age_class : ndarray of int64
    relative_diameter : ndarray of float64
    wounds : Wounds

    Returns
    -------
    Items
        Not packed yet.
    """
    findings = resolution.findings
    stages = _stages(resolution, catalogue, age_class, relative_diameter, wounds)
    second = stages[:, 1] >= 0
    finding = np.concatenate([np.arange(len(findings)), np.flatnonzero(second)])
    stage = np.repeat([0, 1], [len(findings), int(second.sum())])
    action = stages[finding, stage]
    first_share = catalogue.actions["first_share"].to_numpy()[stages[:, 0]]
    share = np.where(second, first_share, 1.0)[finding]
    answers = Items(
        tree=findings.tree[finding],
        finding=finding,
        defect=findings.defect[finding],
        action=action,
        stage=stage,
        dose=resolution.dose[finding] * np.where(stage == 0, share, 1 - share),
        cut_cm=_cuts(findings, catalogue, action, finding, wounds),
        visit=np.zeros(len(finding), dtype=np.int64),
    )
    return _of_what_is_left(answers.take(_order(answers, findings, catalogue)))


def _stages(
    resolution: Resolution,
    catalogue: Catalogue,
    age_class: IntArray,
    relative_diameter: FloatArray,
    wounds: Wounds,
) -> IntArray:
    """Choose first and second action of each finding, shape (findings, 2)."""
    findings = resolution.findings
    stages = catalogue.stages_by_age[findings.defect, age_class[findings.tree]].copy()
    reduce, raise_, remove = (catalogue.action(name) for name in ("reduce", "raise", "remove"))
    stages[resolution.shortened] = [reduce, -1]
    past = past_correcting(findings, catalogue, relative_diameter)
    too_thick = findings.branch_cm > wounds.largest_cm
    stays_on = np.isin(stages, [remove, raise_]) & (past | too_thick)[:, None]
    stages = np.where(stays_on, reduce, stages)
    stages[stages[:, 0] == stages[:, 1], 1] = -1
    return stages


def _cuts(
    findings: Findings, catalogue: Catalogue, action: IntArray, finding: IntArray, wounds: Wounds
) -> FloatArray:
    """Diameter of the largest cut; a limb that stays on is shortened by cuts that close."""
    share = catalogue.actions["cut_share"].to_numpy()[action]
    cut_cm = share * findings.branch_cm[finding]
    shortens = np.isin(action, [catalogue.action("reduce"), catalogue.action("subordinate")])
    return np.where(shortens, np.minimum(cut_cm, wounds.largest_cm), cut_cm)


def with_looks(items: Items, trees: IntArray, catalogue: Catalogue) -> Items:
    """Let the first visit to some trees begin with a look.

    Parameters
    ----------
    items : Items
    trees : ndarray of int64
        Rows of trees, each at most once.
    catalogue : Catalogue

    Returns
    -------
    Items
    """
    count = len(trees)
    looks = Items(
        tree=trees,
        finding=np.full(count, NO_FINDING),
        defect=np.full(count, NO_DEFECT),
        action=np.full(count, catalogue.action("inspect")),
        stage=np.zeros(count, dtype=np.int64),
        dose=np.zeros(count),
        cut_cm=np.zeros(count),
        visit=np.zeros(count, dtype=np.int64),
    )
    return Items.join(looks, items)


def _order(items: Items, findings: Findings, catalogue: Catalogue) -> IntArray:
    """Order items by tree; within it cleaning, first stages, second stages."""
    pressure = findings.severity * catalogue.column("weight", findings.defect)
    cleans = np.isin(items.action, [catalogue.action("clean"), catalogue.action("inspect")])
    group = np.where(cleans, 0, 1 + items.stage)
    return np.lexsort((-pressure[items.finding], group, items.tree))


def _of_what_is_left(items: Items) -> Items:
    """Let each item take its share of what the items before it leave.

    Shares of several faults overlap: what one cut takes no later cut takes
    again, so that all of a tree's work together stays below its whole crown.
    """
    kept = np.log1p(-items.dose)
    running = np.cumsum(kept) - kept
    first = np.searchsorted(items.tree, items.tree, side="left")
    left = np.exp(running - running[first]) if len(items) else items.dose
    return replace(items, dose=items.dose * np.minimum(left, 1.0))


def past_correcting(
    findings: Findings, catalogue: Catalogue, relative_diameter: FloatArray
) -> npt.NDArray[np.bool_]:
    """Say which findings are past correcting at the size the tree has.

    Parameters
    ----------
    findings : Findings
    catalogue : Catalogue
    relative_diameter : ndarray of float64
        One entry per tree.

    Returns
    -------
    ndarray of bool
    """
    limit = catalogue.column("correctable_to", findings.defect)
    past: npt.NDArray[np.bool_] = relative_diameter[findings.tree] > limit
    return past


def without_done(
    items: Items,
    findings: Findings,
    last_visit: npt.NDArray[np.datetime64],
    dose_done: FloatArray,
) -> Items:
    """Take off what visits since the observations have done already, in the order of work.

    Parameters
    ----------
    items : Items
    findings : Findings
    last_visit : ndarray of datetime64[ns]
        One entry per tree, NaT where never visited.
    dose_done : ndarray of float64
        Dose taken on each tree since its findings were observed.

    Returns
    -------
    Items
        With what remains.
    """
    observed = findings.observed_on[np.maximum(items.finding, 0)]
    answered = (items.finding >= 0) & (last_visit[items.tree] > observed)
    counted = np.where(answered, items.dose, 0.0)
    before = np.cumsum(counted) - counted
    first = np.searchsorted(items.tree, items.tree, side="left")
    before_in_tree = before - before[first]
    done = np.clip(dose_done[items.tree] - before_in_tree, 0, counted)
    dose = items.dose - done
    nothing_left = answered & (dose <= DOSE_ROUNDING)
    return replace(items, dose=dose).take(~nothing_left)
