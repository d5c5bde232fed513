"""The work a tree needs, in order, packed into visits that keep the dose limit."""

from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Self

import numba
import numpy as np
import numpy.typing as npt

from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.conflicts import Resolution
from forestcycle.practice.defects import Findings
from forestcycle.practice.tables import Column, load_table

NO_DEFECT = -1
NO_FINDING = -1
RULE_COLUMNS = {"rule": Column(), "value": Column("number", least=0, most=1)}
WOUND_COLUMNS = {"limit": Column(), "cut_diameter_cm": Column("number", least=0)}
DOSE_ROUNDING = 1e-9


@dataclass(frozen=True)
class Items:
    """Work items, one entry each, sorted by tree and, within a tree, by order of work.

    Attributes
    ----------
    tree : ndarray of int64
        Row of the tree.
    finding : ndarray of int64
        Entry in the findings, -1 for the look that begins a visit to a tree
        without record.
    defect, action : ndarray of int64
        Codes in the catalogue; defect -1 where there is none.
    stage : ndarray of int64
        0, or 1 for work that must wait for a later visit than stage 0 of
        the same finding.
    dose : ndarray of float64
        Share of live crown.
    cut_cm : ndarray of float64
        Diameter of the largest cut, 0 for none.
    visit : ndarray of int64
        1, 2, ...; 0 as long as the items are not packed.
    """

    tree: IntArray
    finding: IntArray
    defect: IntArray
    action: IntArray
    stage: IntArray
    dose: FloatArray
    cut_cm: FloatArray
    visit: IntArray

    def __len__(self) -> int:
        return len(self.tree)

    def take(self, rows: npt.NDArray[np.int64] | npt.NDArray[np.bool_]) -> Self:
        """Return some of the items."""
        return type(self)(*(getattr(self, field.name)[rows] for field in fields(self)))

    @classmethod
    def join(cls, first: Self, second: Self) -> Self:
        """Return two sets of items as one, sorted by tree."""
        joined = cls(
            *(
                np.concatenate([getattr(first, field.name), getattr(second, field.name)])
                for field in fields(cls)
            )
        )
        return joined.take(np.argsort(joined.tree, kind="stable"))


@dataclass(frozen=True)
class Wounds:
    """How large a cut may be.

    Attributes
    ----------
    ideal_cm : float
        What cuts should stay under.
    largest_cm : float
        A larger cut into sound wood seldom closes: no removal beyond it.
    controlled_cm : float
        A larger limb is not fully controlled by hand.
    """

    ideal_cm: float
    largest_cm: float
    controlled_cm: float


def load_wounds(*, folder: Path | None = None) -> Wounds:
    """Load ``wounds.csv``."""
    table = load_table("wounds", WOUND_COLUMNS, folder=folder).set_index("limit")
    diameter = table["cut_diameter_cm"]
    return Wounds(
        ideal_cm=float(diameter["ideal"]),
        largest_cm=float(diameter["largest"]),
        controlled_cm=float(diameter["controlled by hand"]),
    )


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


@dataclass(frozen=True)
class VisitRules:
    """What each visit to each tree may and usually does take.

    Attributes
    ----------
    limit, usual : ndarray of float64
        At the first visit, one entry per tree.
    later_limit, later_usual : ndarray of float64
        At all later visits: as for a tree of its age class in sound state,
        since a stressed tree is cut again only after it has recovered.
    least_part : float
        No item is divided into smaller shares.
    finish : float
        A rest of this size is taken along where the limit allows.
    """

    limit: FloatArray
    usual: FloatArray
    later_limit: FloatArray
    later_usual: FloatArray
    least_part: float
    finish: float


def load_packing_rules(*, folder: Path | None = None) -> tuple[float, float]:
    """Load ``packing_rules.csv``: least part and finish, as shares of live crown."""
    table = load_table("packing_rules", RULE_COLUMNS, folder=folder).set_index("rule")["value"]
    return float(table["least part"]), float(table["finish"])


def pack(items: Items, catalogue: Catalogue, rules: VisitRules) -> Items:
    """Pack work items into visits, in their order; what does not fit is carried on.

    No visit passes the dose limit. A visit stops at the usual dose; an item
    that can be done in parts is divided there, one that cannot waits for the
    next visit, where it may pass the usual dose but not the limit. Live work
    on trees whose limit is 0 even when sound is left out.

    Parameters
    ----------
    items : Items
        Sorted by tree and order of work.
    catalogue : Catalogue
    rules : VisitRules

    Returns
    -------
    Items
        With ``visit`` set; a divided item has one entry per visit.
    """
    items = items.take((items.dose <= 0) | (rules.later_limit[items.tree] > 0))
    divisible = catalogue.actions["divisible"].to_numpy()[items.action]
    usual = np.maximum(rules.later_usual[items.tree], DOSE_ROUNDING)
    room = int(np.sum(np.ceil(items.dose / np.maximum(usual, rules.least_part)))) + 3 * len(items)
    entry, visit, dose = _pack(
        items.tree,
        items.finding,
        items.stage,
        items.dose,
        divisible,
        rules.limit,
        rules.usual,
        rules.later_limit,
        rules.later_usual,
        rules.least_part,
        rules.finish,
        room,
    )
    return replace(items.take(entry), dose=dose, visit=visit)


@numba.njit(cache=True)  # type: ignore[misc, unused-ignore]
def _pack(  # noqa: C901 - one loop, compiled
    tree: IntArray,
    finding: IntArray,
    stage: IntArray,
    item_dose: FloatArray,
    divisible: npt.NDArray[np.bool_],
    limit: FloatArray,
    usual: FloatArray,
    later_limit: FloatArray,
    later_usual: FloatArray,
    least_part: float,
    finish: float,
    room: int,
) -> tuple[IntArray, IntArray, FloatArray]:
    entry = np.empty(room, np.int64)
    visit_of = np.empty(room, np.int64)
    dose_of = np.empty(room, np.float64)
    first_stage_visit = np.zeros(finding.max() + 1 if finding.size else 1, np.int64)
    parts = 0
    visit, used, most, stop = 1, 0.0, 0.0, 0.0
    for i in range(tree.size):
        if i == 0 or tree[i] != tree[i - 1]:
            visit, used, most, stop = 1, 0.0, limit[tree[i]], usual[tree[i]]
        rest = item_dose[i]
        waits = stage[i] == 1 and visit <= first_stage_visit[finding[i]]
        while True:
            take = -1.0
            free = stop - used
            if waits:
                waits = False
            elif rest <= max(free, 0.0) + 1e-9 or (
                stop > 0.0 and rest - free <= finish and rest <= most - used
            ):
                take = rest
            elif divisible[i] and free >= least_part and rest >= 2 * least_part:
                take = min(free, rest - least_part)
            elif used <= 1e-9 and stop > 0.0:
                take = rest if rest <= most and not divisible[i] else min(rest, stop)
            if take >= 0.0:
                entry[parts], visit_of[parts], dose_of[parts] = i, visit, take
                parts += 1
                used += take
                rest -= take
                if stage[i] == 0 and finding[i] >= 0:
                    first_stage_visit[finding[i]] = visit
                if rest <= 1e-9:
                    break
            visit += 1
            used, most, stop = 0.0, later_limit[tree[i]], later_usual[tree[i]]
    return entry[:parts], visit_of[:parts], dose_of[:parts]
