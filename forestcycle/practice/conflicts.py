"""Where two findings ask for contrary work, one rule decides and is named."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.defects import Findings

SAME_LIMB = "two faults on one limb are answered by the weightier one's work"
SAME_FORK = "one leader is chosen once: the worst of the faults at the top decides"
PAIR = "of two limbs that cross one goes: the one with a fault of its own, else the worse placed"
NO_THINNING = "a stripped interior is not thinned further"
NO_RAISING = "under a low live crown low limbs are shortened and kept, not taken off"


@dataclass(frozen=True)
class Resolution:
    """Findings without contradictions, and what was dropped and why.

    Attributes
    ----------
    findings : Findings
    shortened : ndarray of bool
        Findings whose raising is replaced by shortening.
    dropped : DataFrame
        ``tree defect position rule``, one row per finding left unanswered.
    """

    findings: Findings
    shortened: npt.NDArray[np.bool_]
    dropped: pd.DataFrame


def resolve(findings: Findings, catalogue: Catalogue) -> Resolution:
    """Settle contradictions between findings of one tree.

    Parameters
    ----------
    findings : Findings
        Sorted by tree.
    catalogue : Catalogue

    Returns
    -------
    Resolution
    """
    pressure = findings.severity * catalogue.column("weight", findings.defect)
    kept = np.ones(len(findings), dtype=np.bool_)
    rule = np.full(len(findings), "", dtype=object)
    for loses, name in (
        (_second_at_one_fork(findings, catalogue, pressure), SAME_FORK),
        (_other_of_a_pair(findings, catalogue), PAIR),
        (_second_on_one_limb(findings, pressure, kept), SAME_LIMB),
        (_thinning_of_a_stripped_crown(findings, catalogue), NO_THINNING),
    ):
        rule[loses & kept] = name
        kept &= ~loses
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
    return Resolution(left, _raising_under_a_low_crown(left, catalogue), dropped)


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


def _other_of_a_pair(findings: Findings, catalogue: Catalogue) -> npt.NDArray[np.bool_]:
    """Of the crossing limbs recorded one by one on a tree, keep every second as work."""
    crossing = findings.defect == catalogue.code("crossing limbs")
    loses = np.zeros(len(findings), dtype=np.bool_)
    rows = np.flatnonzero(crossing & _named(findings))
    if rows.size < 2:
        return loses
    has_own_fault = _shares_limb(findings, ~crossing)[rows]
    order = rows[np.lexsort([-findings.severity[rows], ~has_own_fault, findings.tree[rows]])]
    tree = findings.tree[order]
    first = np.searchsorted(tree, tree, side="left")
    count = np.searchsorted(tree, tree, side="right") - first
    rank = np.arange(len(order)) - first
    loses[order[rank >= (count + 1) // 2]] = True
    return loses


def _shares_limb(findings: Findings, others: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Mark findings at a position that also carries one of the others."""
    place = findings.tree * (len(findings) + 1) + _position_codes(findings)
    return np.isin(place, place[others & _named(findings)]) & _named(findings)


def _second_on_one_limb(
    findings: Findings, pressure: FloatArray, kept: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    keys = [findings.tree, _position_codes(findings)]
    return _all_but_worst(keys, pressure, kept & _named(findings))


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
