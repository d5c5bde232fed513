"""The work in words a crew can act on.

Texts name what to do, where in the crown, how much this time, the ceiling,
and what to leave for next time. Cautions are those of this tree alone, so that
they are read; what holds at every tree, the three-part cut among it, stands
once at the head of every sheet and day map. Neither is a substitute for
training: local safety rules and licensed practice come first.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice import texts
from forestcycle.practice.catalogue import FloatArray
from forestcycle.practice.programme import Programme
from forestcycle.practice.texts import Texts

LOOK_FIRST = "Inspect first: no defect is on record, the work is what such trees usually need."
THREE_CUTS = "Three-part cut where the free hand does not fully hold the limb."
RECOVER_FIRST = "Stressed: no live wood this time; the rest only once the tree has recovered."
ABOUT = "About {} % of live crown,"
STOP_AT = "Worst first; stop near {} % of live crown,"
CEILING = "never over {} %."
SMALLER = "Choose smaller cuts where they do."
NO_LIVE_WOOD = "Take no live wood."
OFF_GROUND = {
    "ground": "",
    "climb": "Climbing: two trained people on site, rescue kit ready, tied in at all times.",
    "lift": "Lift: trained operator, harness, drop zone closed.",
    "line_clearance": "Off the ground: tied in or in harness, drop zone closed.",
}
BELOW = {
    "street": "Traffic: signs and cones by local rules before the first cut.",
    "footway": "Close the footway below the work.",
    "school": "Work outside school hours or with the yard closed.",
    "playground": "Close the playground below the work.",
}
DEAD = "Dead: not for pruning. Report it for a removal decision by a qualified assessor."
CRACK = "Crack or cavity: no climbing and no live cut before a qualified risk assessor has seen it."


@dataclass(frozen=True)
class CrewTexts:
    """Texts of each tree's next visit, one entry per tree.

    Attributes
    ----------
    work : ndarray of object
        What to do, in order.
    note : ndarray of object
        How much, the ceiling, what to keep and what to leave, how to cut.
    cautions : ndarray of object
    """

    work: texts.ObjectArray
    note: texts.ObjectArray
    cautions: texts.ObjectArray


def positions(programme: Programme) -> texts.ObjectArray:
    """Return where each work item was observed to be needed, may be empty."""
    observed = np.append(programme.findings.position, "")
    return np.asarray(observed[programme.items.finding], dtype=object)


def phrases(programme: Programme) -> Texts:
    """Say each work item in a few words: action, what it acts on, and where.

    Parameters
    ----------
    programme : Programme

    Returns
    -------
    Texts
        One entry per item.
    """
    items, defects = programme.items, programme.catalogue.defects
    what = np.array([*defects["said"], "the whole tree"], dtype=object)
    defect = items.defect % len(what)
    usual_places = [*defects["where"], ""]
    at = positions(programme)
    observed = texts.distinct(at)
    said_places = [f"({place})" if place else "" for place in observed.words]
    place = Texts(
        np.where(at == "", defect, len(usual_places) + observed.code),
        np.array([*usual_places, *said_places], dtype=object),
    )
    reads = programme.catalogue.actions["reads"].to_numpy(dtype=object)
    said = texts.together([Texts(items.action, reads), Texts(defect, what), place])
    prior = np.append(programme.findings.prior, False)[items.finding]
    return texts.together([said, texts.where(prior, "if present")], ", ")


@dataclass(frozen=True)
class Visit:
    """Facts of each tree's next visit, one entry per tree.

    Attributes
    ----------
    dose : ndarray of float64
    prior, dead, stressed : ndarray of bool
    skill : Categorical
        Of ``SKILLS``.
    target : Series
    conductor_caution : ndarray of object
    """

    dose: FloatArray
    prior: npt.NDArray[np.bool_]
    dead: npt.NDArray[np.bool_]
    stressed: npt.NDArray[np.bool_]
    skill: pd.Categorical
    target: "pd.Series[str]"
    conductor_caution: texts.ObjectArray


def crew_texts(programme: Programme, said: Texts, visit: Visit) -> CrewTexts:
    """Write the crew's texts for the next visit to each tree.

    Parameters
    ----------
    programme : Programme
    said : Texts
        From :func:`phrases`.
    visit : Visit

    Returns
    -------
    CrewTexts
    """
    items, trees = programme.items, len(visit.dose)
    now, later = items.visit == 1, items.visit == 2
    work = texts.listed(items.tree[now], Texts(said.code[now], said.words), trees)
    next_time = texts.listed(items.tree[later], Texts(said.code[later], said.words), trees)
    note = texts.together(
        [
            texts.where(visit.dead, DEAD),
            texts.where(visit.prior & ~visit.dead, LOOK_FIRST),
            _how_much(programme, visit),
            _keep(programme, trees),
            Texts(next_time.code, _sentences("Leave for a later visit: {}.", next_time.words)),
            texts.where(visit.stressed & ~visit.dead, RECOVER_FIRST),
            _cuts(programme, trees),
        ]
    )
    return CrewTexts(
        work=Texts(work.code, _capitals(work.words)).values,
        note=note.values,
        cautions=_cautions(programme, visit).values,
    )


def _how_much(programme: Programme, visit: Visit) -> Texts:
    """Say this visit's dose and the ceiling; after a look, where to stop."""
    none = 0
    some = (visit.dose > 0) & ~visit.dead
    stop = np.where(visit.prior, programme.rules.usual, visit.dose)
    percent = np.maximum(np.rint(stop * 100).astype(np.int64), 1)
    measured = texts.from_numbers(np.where(some & ~visit.prior, percent, none), ABOUT)
    expected = texts.from_numbers(np.where(some & visit.prior, percent, none), STOP_AT)
    ceiling = np.rint(programme.limits.limit * 100).astype(np.int64)
    limit = texts.from_numbers(np.where(some, ceiling, none), CEILING)
    no_wood = texts.where(~some & ~visit.dead & ~visit.stressed, NO_LIVE_WOOD)
    return texts.together([measured, expected, limit, no_wood])


def _keep(programme: Programme, trees: int) -> Texts:
    """Say what the first live cut of the visit is to leave standing."""
    items = programme.items
    rows = np.flatnonzero((items.visit == 1) & (items.dose > 0))
    rows = rows[np.unique(items.tree[rows], return_index=True)[1]]
    keep = _sentences("Keep {}.", programme.catalogue.defects["leave"].to_numpy(dtype=object))
    code = np.full(trees, len(keep), dtype=np.int64)
    code[items.tree[rows]] = items.defect[rows]
    return Texts(code, np.append(keep, ""))


def _cuts(programme: Programme, trees: int) -> Texts:
    """Say how large the cuts get, and how to make those that the hand cannot hold."""
    items, wounds = programme.items, programme.wounds
    now = items.visit == 1
    largest, largest_live = np.zeros(trees), np.zeros(trees)
    np.maximum.at(largest, items.tree[now], items.cut_cm[now])
    live = now & (items.dose > 0)
    np.maximum.at(largest_live, items.tree[live], items.cut_cm[live])
    diameter = np.where(largest_live > wounds.controlled_cm, np.ceil(largest_live), 0)
    return texts.together(
        [
            texts.from_numbers(diameter.astype(np.int64), "Live cuts up to about {} cm."),
            texts.where(largest_live > wounds.ideal_cm, SMALLER),
            texts.where(largest > wounds.controlled_cm, THREE_CUTS),
        ]
    )


def _cautions(programme: Programme, visit: Visit) -> Texts:
    items, trees = programme.items, len(visit.dose)
    cracked = np.zeros(trees, dtype=np.bool_)
    cracked[items.tree[items.defect == programme.catalogue.code("crack or cavity")]] = True
    height = np.array([OFF_GROUND[str(skill)] for skill in visit.skill.categories], dtype=object)
    below = texts.distinct(visit.target.to_numpy(dtype=object))
    closed = np.array([BELOW.get(word, "") for word in below.words], dtype=object)
    return texts.together(
        [
            texts.distinct(visit.conductor_caution),
            texts.where(cracked, CRACK),
            Texts(np.asarray(visit.skill.codes, dtype=np.int64), height),
            Texts(below.code, closed),
        ]
    )


def _capitals(words: texts.ObjectArray) -> texts.ObjectArray:
    return np.array([word[:1].upper() + word[1:] for word in words], dtype=object)


def _sentences(template: str, words: texts.ObjectArray) -> texts.ObjectArray:
    return np.array([template.format(word) if word else "" for word in words], dtype=object)
