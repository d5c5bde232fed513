"""The work in words a crew can act on.

Texts name what to do, where in the crown, how much this time, the ceiling,
and what to leave for next time. Cautions are those of this tree alone, so that
they are read; what holds at every tree, the three-part cut among it, stands
once at the head of every sheet and day map. All are short: a day has fifty
stops. None is a substitute for training: local safety rules and licensed
practice come first.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice import texts
from forestcycle.practice.catalogue import FloatArray
from forestcycle.practice.measures import CM_PER_INCH
from forestcycle.practice.percent import dose_percent, limit_percent
from forestcycle.practice.programme import CRACKED, Programme
from forestcycle.practice.texts import Texts

LOOK = "Look at the whole tree"
IF_PRESENT = "if present:"
THREE_CUTS = "Three-part cut."
RECOVER_FIRST = "Stressed: no live wood until it has recovered."
ABOUT = "About {} %,"
STOP_NEAR = "Nothing on record: worst first, stop near {} %,"
CEILING = "limit {} %."
NO_LIVE_WOOD = "No live wood this time."
LARGEST_CUTS = {"metric": "Cuts to {} cm.", "us": "Cuts to {} in."}
LARGE_CUTS = {
    "metric": "Cuts to {} cm, smaller if they do.",
    "us": "Cuts to {} in, smaller if they do.",
}
OFF_GROUND = {
    "ground": "",
    "climb": "Climbing: two trained people, rescue kit ready, tied in at all times.",
    "lift": "Lift: trained operator, harness, drop zone closed.",
    "line_clearance": "Off the ground: tied in or in harness, drop zone closed.",
}
BELOW = {
    "street": "Traffic: signs and cones first.",
    "footway": "Close the footway below.",
    "school": "Outside school hours, or with the yard closed.",
    "playground": "Close the playground below.",
}
DEAD = "Dead: not for pruning. Report it for a removal decision by a qualified assessor."
CRACK = "Crack or cavity: no climbing and no live cut before a qualified risk assessor has seen it."
INCH_STEPS = 2
"""Cuts are told to the next half inch."""


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
    """Return where each work item was observed to be needed, may be empty.

    Parameters
    ----------
    programme : Programme

    Returns
    -------
    (k,) object of str
    """
    observed = np.append(programme.findings.position, "")
    return np.asarray(observed[programme.items.finding], dtype=object)


@dataclass(frozen=True)
class Phrases:
    """Work items in words, one entry each.

    Attributes
    ----------
    full : Texts
        Action, what it acts on, and where.
    brief : Texts
        The fault and the action, for what is left to a later visit.
    """

    full: Texts
    brief: Texts


def phrases(programme: Programme) -> Phrases:
    """Say each work item in a few words.

    Parameters
    ----------
    programme : Programme

    Returns
    -------
    Phrases
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
    full = texts.together([Texts(items.action, reads), Texts(defect, what), place])
    faults = np.array([*defects["defect"], "the whole tree"], dtype=object)
    actions = np.array([f"({word})" for word in reads], dtype=object)
    return Phrases(full, texts.together([Texts(defect, faults), Texts(items.action, actions)]))


def item_texts(programme: Programme, said: Phrases) -> texts.ObjectArray:
    """Return the text of each work item as it stands alone, a prior's with its condition.

    Parameters
    ----------
    programme : Programme
    said : Phrases
        Of the same work items.

    Returns
    -------
    (k,) object of str
    """
    prior = np.append(programme.findings.prior, False)[programme.items.finding]
    return texts.together([said.full, texts.where(prior, "if present")], ", ").values


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


def crew_texts(
    programme: Programme, said: Phrases, visit: Visit, *, units: str = "metric"
) -> CrewTexts:
    """Write the crew's texts for the next visit to each tree.

    Parameters
    ----------
    programme : Programme
    said : Phrases
    visit : Visit
    units : {"metric", "us"}
        Of the diameters in the notes.

    Returns
    -------
    CrewTexts
    """
    trees = len(visit.dose)
    note = texts.together(
        [
            texts.where(visit.dead, DEAD),
            _how_much(programme, visit),
            _keep(programme, trees),
            _next_time(programme, said.brief, visit),
            texts.where(visit.stressed & ~visit.dead, RECOVER_FIRST),
            _cuts(programme, trees, units),
        ]
    )
    return CrewTexts(
        work=_work(programme, said.full, visit).values,
        note=note.values,
        cautions=_cautions(programme, visit).values,
    )


def _work(programme: Programme, said: Texts, visit: Visit) -> Texts:
    """List the work of the next visit; a look comes before all else."""
    items, trees = programme.items, len(visit.dose)
    now = items.visit == 1
    looks = now & (items.action == programme.catalogue.action("inspect")) & (items.defect < 0)
    acts = now & ~looks
    looked = np.zeros(trees, dtype=np.bool_)
    looked[items.tree[looks]] = True
    work = texts.listed(items.tree[acts], said.at(acts), trees)
    some = np.array([word != "" for word in work.words], dtype=np.bool_)[work.code]
    then = texts.together(
        [texts.where(visit.prior & some, IF_PRESENT), work],
    )
    both = texts.together([texts.where(looked, LOOK), then], "; ")
    return Texts(both.code, _capitals(both.words))


def _next_time(programme: Programme, brief: Texts, visit: Visit) -> Texts:
    """Say what is left for the next visit; of a tree without record nobody knows."""
    items = programme.items
    later = (items.visit == 2) & ~visit.prior[items.tree]
    left = texts.listed(items.tree[later], brief.at(later), len(visit.dose), ", ")
    return Texts(left.code, _sentences("Next visit: {}.", left.words))


def _how_much(programme: Programme, visit: Visit) -> Texts:
    """Say this visit's dose and the ceiling; after a look, where to stop."""
    none = 0
    some = (visit.dose > 0) & ~visit.dead
    stop = np.where(visit.prior, programme.rules.usual, visit.dose)
    limits = programme.limits.limit
    percent = dose_percent(stop, limits).astype(np.int64)
    measured = texts.from_numbers(np.where(some & ~visit.prior, percent, none), ABOUT)
    expected = texts.from_numbers(np.where(some & visit.prior, percent, none), STOP_NEAR)
    ceiling = limit_percent(limits).astype(np.int64)
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


def _cuts(programme: Programme, trees: int, units: str) -> Texts:
    """Say how large the cuts get, and how to make those that the hand cannot hold."""
    items, wounds = programme.items, programme.wounds
    now = items.visit == 1
    largest, largest_live = np.zeros(trees), np.zeros(trees)
    np.maximum.at(largest, items.tree[now], items.cut_cm[now])
    live = now & (items.dose > 0)
    np.maximum.at(largest_live, items.tree[live], items.cut_cm[live])
    told = np.where(largest_live > wounds.controlled_cm, told_diameter(largest_live, units), 0.0)
    too_large = largest_live > wounds.ideal_cm
    return texts.together(
        [
            texts.from_numbers(np.where(too_large, 0.0, told), LARGEST_CUTS[units]),
            texts.from_numbers(np.where(too_large, told, 0.0), LARGE_CUTS[units]),
            texts.where(largest > wounds.controlled_cm, THREE_CUTS),
        ]
    )


def told_diameter(diameter_cm: FloatArray, units: str) -> FloatArray:
    """Round diameters up to what a crew can judge by eye: a centimetre, or half an inch.

    Parameters
    ----------
    diameter_cm : ndarray of float64
    units : {"metric", "us"}

    Returns
    -------
    ndarray of float64
        In cm or in inches.
    """
    if units == "us":
        return np.ceil(diameter_cm / CM_PER_INCH * INCH_STEPS - 1e-9) / INCH_STEPS
    return np.ceil(diameter_cm - 1e-9)


def _cautions(programme: Programme, visit: Visit) -> Texts:
    cracked = programme.items.trees_with(programme.catalogue.code(CRACKED), len(visit.dose))
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
