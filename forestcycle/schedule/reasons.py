"""Why a tree is not planned: facts and prices, never guesses.

A tree that no crew-day could visit has its reason from :func:`build_problem`;
:mod:`left_out <forestcycle.schedule.left_out>` says it of the others.
"""

import numpy as np
from numpy.typing import NDArray

from forestcycle.inventory import Inventory
from forestcycle.practice import Assessment
from forestcycle.schedule.eligibility import Ineligible
from forestcycle.schedule.left_out import MOST_INSERTIONS, left_out_reasons
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.tree_rules import equipment_texts, hours_texts
from forestcycle.settings import CycleSettings

Texts = NDArray[np.object_]


def reasons(
    problem: Problem,
    plan: Plan,
    ineligible: NDArray[np.str_],
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
    *,
    most_insertions: int = MOST_INSERTIONS,
) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
    """Say of every tree of the inventory why it is not planned.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    ineligible : (n,) str
        Of :class:`Ineligible` per inventory tree, as from :func:`build_problem`.
    inventory : Inventory
    assessment : Assessment
    settings : CycleSettings
    most_insertions : int
        For so many trees, the worthiest first, the way there is looked at too.

    Returns
    -------
    reason, reason_text : (n,) str
        As a word, and with its figures; both empty where the tree is planned.

    Raises
    ------
    ValueError
        ``ineligible`` is not of this inventory.
    """
    reason = ineligible.astype(object)
    text = _ineligible_texts(ineligible, assessment)
    _say_rules(text, ineligible, inventory, assessment, settings)
    left_out = np.setdiff1d(np.arange(problem.trees), plan.tree)
    word, facts = left_out_reasons(problem, plan, left_out, most_insertions=most_insertions)
    reason[problem.tree[left_out]] = word
    text[problem.tree[left_out]] = facts
    if len(inventory.trees) != len(reason):
        raise ValueError("there must be one reason per inventory tree")
    return reason.astype(np.str_), text.astype(np.str_)


def _ineligible_texts(ineligible: NDArray[np.str_], assessment: Assessment) -> Texts:
    table = assessment.trees
    text = np.array([f"{word[:1].upper()}{word[1:]}." if word else "" for word in ineligible])
    text = text.astype(object)
    later = ineligible == str(Ineligible.NOT_YET_DUE)
    day = table["not_before"][later].dt.strftime("%Y-%m-%d")
    text[later] = [f"May be pruned again from {date} on." for date in day]
    unskilled = ineligible == str(Ineligible.NO_SKILL)
    skills = table["skill"][unskilled].astype(str).str.replace("_", " ")
    text[unskilled] = [f"Needs the skill {skill}; no crew has it." for skill in skills]
    long = ineligible == str(Ineligible.TOO_LONG)
    text[long] = [
        f"Takes {minutes:.0f} minutes; with the way there that is longer than any shift."
        for minutes in table["minutes"][long]
    ]
    return text


def _say_rules(
    text: Texts,
    ineligible: NDArray[np.str_],
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
) -> None:
    """Say which hours or equipment keep trees out, where that is why."""
    table = assessment.trees
    unequipped = ineligible == str(Ineligible.NO_EQUIPMENT)
    if unequipped.any():
        needed = equipment_texts(settings, inventory, table)[unequipped]
        skills = table["skill"][unequipped].astype(str).str.replace("_", " ")
        text[unequipped] = [
            f"Needs {names.replace('; ', ' and ')}; no crew with the skill {skill} has that."
            for names, skill in zip(needed, skills, strict=True)
        ]
    late = ineligible == str(Ineligible.OUT_OF_HOURS)
    if late.any():
        hours = hours_texts(settings, inventory)[late]
        text[late] = [
            f"Takes {minutes:.0f} minutes and may be worked {when} only; no crew can get there, "
            "be done in that time and be back within its shift."
            for minutes, when in zip(table["minutes"][late], hours, strict=True)
        ]
