"""The work in words a crew can act on.

Texts name what to do, where in the crown, how much this time, the ceiling,
and what to leave for next time. They are no substitute for training: local
safety rules and licensed practice come first, and every note says so.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forestcycle.practice import texts
from forestcycle.practice.assessment import SKILLS
from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.prescription import Items, Wounds
from forestcycle.practice.texts import Texts

LOOK_FIRST = "Inspect first: no defect is on record, the work is what such trees usually need."
THREE_CUTS = (
    "Limb not fully held by hand: three-part cut. Undercut a quarter to a third through a few "
    "centimetres out; cut through from above further out; take the stub just outside branch bark "
    "ridge and collar."
)
RECOVER_FIRST = "Stressed: no live wood this time; the rest only once the tree has recovered."
NO_LIVE_WOOD = "Take no live wood."
ALWAYS = "Local safety rules and licensed practice come first. Helmet, eyes, ears, gloves."
OFF_GROUND = {
    "ground": "Both feet on the ground, nobody below the cut.",
    "climb": "Climbing: two trained people on site, rescue kit ready, tied in at all times.",
    "lift": "Lift: trained operator, harness, drop zone closed.",
    "line_clearance": "Only crews qualified for line clearance.",
}
BELOW = {
    "street": "Traffic: signs and cones by local rules before the first cut.",
    "footway": "Close the footway below the work.",
    "school": "Work outside school hours or with the yard closed.",
    "playground": "Close the playground below the work.",
}
DEAD = "Dead: not for pruning. Report it for a removal decision by a qualified assessor."
CRACK = "Crack or cavity: do not climb; have it seen by a qualified risk assessor first."


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


def phrases(
    items: Items, positions: texts.ObjectArray, catalogue: Catalogue, prior: npt.NDArray[np.bool_]
) -> Texts:
    """Say each work item in a few words: action, fault and place.

    Parameters
    ----------
    items : Items
    positions : ndarray of object
        As observed, one entry per item; the catalogue's usual place where empty.
    catalogue : Catalogue
    prior : ndarray of bool
        Items that a prior asks for.

    Returns
    -------
    Texts
        One entry per item.
    """
    names = np.array([*catalogue.names, ""], dtype=object)
    defect = items.defect % len(names)
    usual_places = [*catalogue.defects["where"], ""]
    observed = texts.distinct(positions)
    said_places = [f"({place})" if place else "" for place in observed.words]
    place = Texts(
        np.where(positions == "", defect, len(usual_places) + observed.code),
        np.array([*usual_places, *said_places], dtype=object),
    )
    action = Texts(items.action, catalogue.actions["reads"].to_numpy(dtype=object))
    said = texts.together([action, Texts(defect, names), place])
    return texts.together([said, texts.where(prior, "if present")], ", ")


@dataclass(frozen=True)
class Visit:
    """Facts of each tree's next visit, one entry per tree.

    Attributes
    ----------
    dose, dose_limit, usual : ndarray of float64
    largest_cut_cm : ndarray of float64
    visits_needed : ndarray of int64
    prior, dead, stressed : ndarray of bool
    skill : ndarray of int64
        Position in ``SKILLS``.
    target : ndarray of object
    conductor_caution : ndarray of object
    """

    dose: FloatArray
    dose_limit: FloatArray
    largest_cut_cm: FloatArray
    visits_needed: IntArray
    prior: npt.NDArray[np.bool_]
    dead: npt.NDArray[np.bool_]
    stressed: npt.NDArray[np.bool_]
    skill: IntArray
    target: texts.ObjectArray
    conductor_caution: texts.ObjectArray


def crew_texts(
    items: Items, said: Texts, visit: Visit, catalogue: Catalogue, wounds: Wounds
) -> CrewTexts:
    """Write the crew's texts for the next visit to each tree.

    Parameters
    ----------
    items : Items
        Packed.
    said : Texts
        From :func:`phrases`.
    visit : Visit
    catalogue : Catalogue
    wounds : Wounds

    Returns
    -------
    CrewTexts
    """
    trees = len(visit.dose)
    now, later = items.visit == 1, items.visit == 2
    work = texts.listed(items.tree[now], Texts(said.code[now], said.words), trees)
    work = Texts(work.code, _capitals(work.words))
    next_time = texts.listed(items.tree[later], Texts(said.code[later], said.words), trees)
    leave = Texts(next_time.code, _sentences("Leave for a later visit: {}.", next_time.words))
    note = texts.together(
        [
            texts.where(visit.dead, DEAD),
            texts.where(visit.prior & ~visit.dead, LOOK_FIRST),
            _how_much(visit),
            _keep(items, catalogue, trees),
            leave,
            texts.where(visit.stressed & ~visit.dead, RECOVER_FIRST),
            _cuts(visit, wounds),
        ]
    )
    return CrewTexts(work.values, note.values, _cautions(items, visit, catalogue).values)


def _how_much(visit: Visit) -> Texts:
    some = (visit.dose > 0) & ~visit.dead
    percent = np.rint(visit.dose * 100).astype(np.int64)
    ceiling = np.rint(visit.dose_limit * 100).astype(np.int64)
    amount = texts.from_numbers(
        np.where(some, np.maximum(percent, 1), 0), "About {} % of live crown,"
    )
    limit = texts.from_numbers(ceiling, "never over {} %.")
    amount = texts.together([amount, limit])
    none = (visit.dose <= 0) & ~visit.dead & ~visit.stressed
    code = np.where(some, amount.code, len(amount.words) + none)
    return Texts(code, np.array([*amount.words, "", NO_LIVE_WOOD], dtype=object))


def _keep(items: Items, catalogue: Catalogue, trees: int) -> Texts:
    first_structural = (items.visit == 1) & (items.dose > 0)
    rows = np.flatnonzero(first_structural)
    rows = rows[np.unique(items.tree[rows], return_index=True)[1]]
    keep = np.array([*catalogue.defects["leave"]], dtype=object)
    words = np.array([*_sentences("Keep {}.", keep), ""], dtype=object)
    code = np.full(trees, len(words) - 1, dtype=np.int64)
    code[items.tree[rows]] = items.defect[rows]
    return Texts(code, words)


def _cuts(visit: Visit, wounds: Wounds) -> Texts:
    by_hand = (visit.largest_cut_cm <= wounds.controlled_cm) | visit.dead
    diameter = np.where(by_hand, 0, np.ceil(visit.largest_cut_cm)).astype(np.int64)
    size = texts.from_numbers(diameter, "Largest cut about {} cm.")
    size = Texts(np.where(by_hand, len(size.words), size.code), np.append(size.words, ""))
    large = (visit.largest_cut_cm > wounds.ideal_cm) & ~visit.dead
    return texts.together(
        [
            size,
            texts.where(large, "Choose smaller cuts where they do."),
            texts.where(~by_hand, THREE_CUTS),
        ]
    )


def _cautions(items: Items, visit: Visit, catalogue: Catalogue) -> Texts:
    cracked = np.zeros(len(visit.dose), dtype=np.bool_)
    cracked[items.tree[items.defect == catalogue.code("crack or cavity")]] = True
    height = np.array([OFF_GROUND[skill] for skill in SKILLS], dtype=object)
    below = texts.distinct(visit.target)
    below = Texts(below.code, np.array([BELOW.get(word, "") for word in below.words], dtype=object))
    return texts.together(
        [
            texts.distinct(visit.conductor_caution),
            texts.where(cracked, CRACK),
            Texts(visit.skill, height),
            below,
            texts.where(np.ones(len(visit.dose), dtype=np.bool_), ALWAYS),
        ]
    )


def _capitals(words: texts.ObjectArray) -> texts.ObjectArray:
    return np.array([word[:1].upper() + word[1:] for word in words], dtype=object)


def _sentences(template: str, words: texts.ObjectArray) -> texts.ObjectArray:
    return np.array([template.format(word) if word else "" for word in words], dtype=object)
