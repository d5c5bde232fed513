"""What the settings' rules ask of each tree: hours of the day, equipment.

Crews and trees carry equipment as bits beside those of the skills: a crew may
visit a tree if it has every bit of the tree's.
"""

from collections.abc import Sequence
from datetime import time

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.inventory import Inventory
from forestcycle.schedule.problem import MINUTES_PER_DAY, BoolArray, FloatArray
from forestcycle.settings import Crew, CycleSettings
from forestcycle.settings.rules import EquipmentRule, TreeRule

FIRST_EQUIPMENT_BIT = 8
"""Bits below are those of skills."""

Bits = NDArray[np.uint32]
Texts = NDArray[np.object_]


def work_hours(settings: CycleSettings, inventory: Inventory) -> tuple[FloatArray, FloatArray]:
    """Minutes of the day between which the work at each tree must lie.

    Parameters
    ----------
    settings : CycleSettings
    inventory : Inventory

    Returns
    -------
    hours_from, hours_until : (n,) float64
        The whole day where no rule applies; of several rules the latest start
        and the earliest end, which may leave no time at all.
    """
    opens = np.zeros(len(inventory.trees))
    shuts = np.full(len(inventory.trees), MINUTES_PER_DAY)
    for rule in settings.hours:
        under = falls_under(rule, inventory)
        opens[under] = np.maximum(opens[under], _minute(rule.work_from))
        shuts[under] = np.minimum(shuts[under], _minute(rule.work_until))
    return opens, shuts


def hours_texts(settings: CycleSettings, inventory: Inventory) -> Texts:
    """Say the hours of each tree with the rules they come from.

    Parameters
    ----------
    settings : CycleSettings
    inventory : Inventory

    Returns
    -------
    (n,) object of str
        ``09:00-14:00 school hours, market``; empty for the whole day.
    """
    names = _rule_names(
        [(rule.name, falls_under(rule, inventory)) for rule in settings.hours],
        len(inventory.trees),
        ", ",
    )
    opens, shuts = work_hours(settings, inventory)
    bound = np.flatnonzero(names != "")
    texts = np.full(len(names), "", dtype=object)
    texts[bound] = [
        f"{clock(start)}-{clock(end)} {name}"
        for start, end, name in zip(opens[bound], shuts[bound], names[bound], strict=True)
    ]
    return texts


def equipment_bits(settings: CycleSettings, inventory: Inventory, assessed: pd.DataFrame) -> Bits:
    """Bits of the equipment that each tree's work needs.

    Parameters
    ----------
    settings : CycleSettings
    inventory : Inventory
    assessed : DataFrame
        ``Assessment.trees``.

    Returns
    -------
    (n,) uint32
    """
    bits = np.zeros(len(inventory.trees), dtype=np.uint32)
    for rule in settings.equipment:
        bits[_needs(rule, inventory, assessed)] |= np.uint32(_bit(settings, rule.name))
    return bits


def equipment_texts(settings: CycleSettings, inventory: Inventory, assessed: pd.DataFrame) -> Texts:
    """Name the equipment that each tree's work needs.

    Parameters
    ----------
    settings : CycleSettings
    inventory : Inventory
    assessed : DataFrame
        ``Assessment.trees``.

    Returns
    -------
    (n,) object of str
        ``chipper; lift truck``; empty where there is none.
    """
    rules: dict[str, BoolArray] = {}
    for rule in settings.equipment:
        needs = _needs(rule, inventory, assessed)
        rules[rule.name] = rules.get(rule.name, np.False_) | needs
    return _rule_names(list(rules.items()), len(inventory.trees), "; ")


def crew_equipment_bits(settings: CycleSettings, crew: Crew) -> int:
    """Bits of the equipment that a crew brings along.

    Parameters
    ----------
    settings : CycleSettings
    crew : Crew

    Returns
    -------
    int
    """
    bits = 0
    for name in crew.equipment:
        bits |= _bit(settings, name)
    return bits


def falls_under(rule: TreeRule, inventory: Inventory) -> BoolArray:
    """Whether any key of a rule names each tree, equipment's own keys aside.

    Parameters
    ----------
    rule : TreeRule
    inventory : Inventory

    Returns
    -------
    (n,) bool
    """
    trees = inventory.trees
    under = np.zeros(len(trees), dtype=np.bool_)
    if rule.targets:
        under |= trees["target"].astype(str).isin(rule.targets).to_numpy(np.bool_)
    if rule.streets:
        under |= trees["street"].isin(rule.streets).to_numpy(np.bool_)
    if rule.tree_ids:
        under |= trees["tree_id"].isin(rule.tree_ids).to_numpy(np.bool_)
    if rule.street_kmh is not None and inventory.streets is not None:
        fast = inventory.streets.loc[inventory.streets["speed_kmh"] >= rule.street_kmh, "street"]
        under |= trees["street"].isin(set(fast) - {""}).to_numpy(np.bool_)
    return under


def clock(minute: float) -> str:
    """Write a minute of the day as ``08:30``; the end of the day is ``24:00``.

    Parameters
    ----------
    minute : float
        Parts of a minute are dropped.

    Returns
    -------
    str
    """
    return f"{int(minute) // 60:02d}:{int(minute) % 60:02d}"


def _needs(rule: EquipmentRule, inventory: Inventory, assessed: pd.DataFrame) -> BoolArray:
    needs = falls_under(rule, inventory)
    if rule.height_m is not None:
        needs |= assessed["height_m"].to_numpy(np.float64) >= rule.height_m
    if rule.brush_kg is not None:
        needs |= assessed["brush_kg"].to_numpy(np.float64) >= rule.brush_kg
    return needs


def _bit(settings: CycleSettings, name: str) -> int:
    """Bit of a kind of equipment: several rules may ask for the same kind."""
    kinds = list(dict.fromkeys(rule.name for rule in settings.equipment))
    return 1 << (FIRST_EQUIPMENT_BIT + kinds.index(name))


def _rule_names(rules: Sequence[tuple[str, BoolArray]], trees: int, between: str) -> Texts:
    """Join the names of the rules that hold for each tree."""
    texts = np.full(trees, "", dtype=object)
    for name, under in rules:
        first = under & (texts == "")
        texts[under & ~first] += between + name
        texts[first] = name
    return texts


def _minute(moment: time) -> float:
    return moment.hour * 60.0 + moment.minute + moment.second / 60.0
