"""Where two findings ask for contrary work, one rule decides and is named."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.defects import Findings

SAME_LIMB = "faults of one limb are answered by its removal, else by the weightier one's work"
SAME_FORK = "one leader is chosen once: the worst of the faults at the top decides"
PAIR = "of two limbs that cross one goes: the one with a fault of its own, else the worse placed"
NO_THINNING = "a stripped interior is not thinned further"


@dataclass(frozen=True)
class Resolution:
    """Findings without contradictions, and what was dropped and why.

    Attributes
    ----------
    findings : Findings
    dose : ndarray of float64
        Share of live crown that answers each finding.
    shortened : ndarray of bool
        Findings whose raising is replaced by shortening.
    dropped : DataFrame
        ``tree defect position rule``, one row per finding without work of
        its own.
    """

    findings: Findings
    dose: FloatArray
    shortened: npt.NDArray[np.bool_]
    dropped: pd.DataFrame


def resolve(findings: Findings, catalogue: Catalogue, age_class: IntArray) -> Resolution:
    """Settle contradictions between findings of one tree.

    Parameters
    ----------
    findings : Findings
    catalogue : Catalogue
    age_class : ndarray of int64
        One entry per tree.

    Returns
    -------
    Resolution
    """
    age = age_class[findings.tree]
    removed = catalogue.stages_by_age[findings.defect, age, 0] == catalogue.action("remove")
    pressure = findings.severity * catalogue.column("weight", findings.defect)
    kept = np.ones(len(findings), dtype=np.bool_)
    rule = np.full(len(findings), "", dtype=object)

    def drop(loses: npt.NDArray[np.bool_], name: str) -> None:
        rule[loses & kept] = name
        kept[loses] = False

    drop(_second_at_one_fork(findings, catalogue, pressure), SAME_FORK)
    drop(_thinning_of_a_stripped_crown(findings, catalogue), NO_THINNING)
    drop(_other_of_a_pair(findings, catalogue, kept), PAIR)
    limb = _limbs(findings, catalogue, kept)
    dose = catalogue.dose_by_age[findings.defect, age] * findings.severity
    findings = replace(findings, branch_cm=_largest(findings.branch_cm, limb))
    dose = _largest(dose, limb)
    weightier = np.where(removed, np.inf, pressure)
    drop(_all_but_worst([findings.tree, limb], weightier, kept & (limb >= 0)), SAME_LIMB)

    lost = ~kept
    dropped = pd.DataFrame(
        {
            "tree": findings.tree[lost],
            "defect": np.array(catalogue.names, dtype=object)[findings.defect[lost]],
            "position": findings.position[lost],
            "rule": rule[lost],
        }
    )
    left = findings.take(kept)
    shortened = _raising_under_a_low_crown(left, catalogue)
    return Resolution(left, np.where(shortened, dose[kept] / 2, dose[kept]), shortened, dropped)


def unopposed(findings: Findings, catalogue: Catalogue, age_class: IntArray) -> Resolution:
    """Take findings as they are, where no two of a tree can disagree.

    Parameters
    ----------
    findings : Findings
    catalogue : Catalogue
    age_class : (n,) int64
        Of each tree; position in ``AGE_CLASSES``.

    Returns
    -------
    Resolution
    """
    dose = catalogue.dose_by_age[findings.defect, age_class[findings.tree]] * findings.severity
    return Resolution(findings, dose, np.zeros(len(findings), dtype=np.bool_), pd.DataFrame())


def _limbs(findings: Findings, catalogue: Catalogue, kept: npt.NDArray[np.bool_]) -> IntArray:
    """Give each limb with a named finding a number, -1 elsewhere."""
    place = findings.tree * (len(findings) + 1) + _position_codes(findings)
    limb = pd.factorize(place)[0].astype(np.int64)
    of_limb = catalogue.defects["one_limb"].to_numpy(dtype=bool)[findings.defect]
    return np.where(kept & of_limb & _named(findings), limb, -1)


def _largest(values: FloatArray, limb: IntArray) -> FloatArray:
    """Return for each finding on a limb the largest value on that limb."""
    largest = np.zeros(int(limb.max(initial=-1)) + 1)
    on_limb = limb >= 0
    np.maximum.at(largest, limb[on_limb], values[on_limb])
    return np.where(on_limb, np.append(largest, 0.0)[limb], values)


def _all_but_worst(
    group: list[npt.NDArray[np.int64]], pressure: FloatArray, among: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Mark all but the first by falling pressure within each group."""
    loses = np.zeros(len(pressure), dtype=np.bool_)
    rows = np.flatnonzero(among)
    if not rows.size:
        return loses
    order = rows[np.lexsort([-pressure[rows], *[key[rows] for key in reversed(group)]])]
    same = np.ones(len(order) - 1, dtype=np.bool_)
    for key in group:
        same &= key[order][1:] == key[order][:-1]
    loses[order[1:][same]] = True
    return loses


def _position_codes(findings: Findings) -> IntArray:
    return pd.factorize(pd.Series(findings.position, dtype=object))[0].astype(np.int64)


def _named(findings: Findings) -> npt.NDArray[np.bool_]:
    return np.asarray(findings.position != "", dtype=np.bool_)


def _second_at_one_fork(
    findings: Findings, catalogue: Catalogue, pressure: FloatArray
) -> npt.NDArray[np.bool_]:
    at_top = (catalogue.defects["part"] == "leader").to_numpy()[findings.defect]
    position = np.where(_named(findings), _position_codes(findings), -1)
    # A nameless observation is taken to be the fork that any other one names.
    tree_has_nameless = np.zeros(int(findings.tree.max(initial=-1)) + 1, dtype=np.bool_)
    tree_has_nameless[findings.tree[at_top & (position < 0)]] = True
    position = np.where(tree_has_nameless[findings.tree], -1, position)
    return _all_but_worst([findings.tree, position], pressure, at_top)


def _other_of_a_pair(
    findings: Findings, catalogue: Catalogue, kept: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Of the crossing limbs recorded one by one on a tree, keep every second as work."""
    crossing = findings.defect == catalogue.code("crossing limbs")
    loses = np.zeros(len(findings), dtype=np.bool_)
    rows = np.flatnonzero(crossing & kept & _named(findings))
    if rows.size < 2:
        return loses
    limb = _limbs(findings, catalogue, kept)
    has_own_fault = np.isin(limb[rows], limb[~crossing & (limb >= 0)])
    order = rows[np.lexsort([-findings.severity[rows], ~has_own_fault, findings.tree[rows]])]
    tree = findings.tree[order]
    first = np.searchsorted(tree, tree, side="left")
    count = np.searchsorted(tree, tree, side="right") - first
    rank = np.arange(len(order)) - first
    loses[order[rank >= (count + 1) // 2]] = True
    return loses


def _trees_with(findings: Findings, defect: int) -> npt.NDArray[np.bool_]:
    return np.isin(findings.tree, findings.tree[findings.defect == defect])


def _thinning_of_a_stripped_crown(
    findings: Findings, catalogue: Catalogue
) -> npt.NDArray[np.bool_]:
    thinned = np.isin(
        findings.defect,
        [catalogue.code("radial crowding"), catalogue.code("vertical crowding")],
    )
    return thinned & _trees_with(findings, catalogue.code("stripped interior"))


def _raising_under_a_low_crown(findings: Findings, catalogue: Catalogue) -> npt.NDArray[np.bool_]:
    low_limb = (catalogue.defects["part"] == "low limbs").to_numpy()[findings.defect]
    return low_limb & _trees_with(findings, catalogue.code("low live crown"))
