"""Horizons small enough to check by other means."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.outlook import Chances, CrewKind, Horizon, look_ahead, take_stock
from forestcycle.outlook.facts import TreeFacts, tree_facts
from forestcycle.practice import Assessment, assess
from forestcycle.settings.practice import Practice
from tests.practice.random_city import random_city

GROUND = CrewKind("Ground", skill=1, now=1, days=3, minutes_per_day=60.0, day_cost_cents=10_000)
ALL_SKILLS = CrewKind("All", skill=15, now=1, days=2, minutes_per_day=90.0, day_cost_cents=20_000)
CALM = Chances(growth=0, new_faults=0, worsening=0, storm_damage=0)
"""Nothing grows, worsens or breaks: trees move from state to state without chance."""
USUAL = Chances(storm_damage=0.0076)
YEAR = {"on": date(2027, 1, 1), "year_end": date(2027, 12, 31)}


def facts_of_city(trees: int, *, seed: int = 0) -> tuple[TreeFacts, Assessment]:
    """What the outlook knows of each tree of a random city, and the assessment behind it."""
    inventory = random_city(trees, seed)
    assessment = assess(inventory, Practice(), **YEAR)
    return tree_facts(inventory, assessment), assessment


def small_horizon(
    trees: int,
    *,
    seed: int = 0,
    chances: Chances = USUAL,
    crews: tuple[CrewKind, ...] = (GROUND, ALL_SKILLS),
    wards: int = 2,
) -> Horizon:
    """A random city of so many trees, its wards in turn."""
    inventory = random_city(trees, seed)
    names = np.array([f"Ward {k}" for k in range(wards)])[np.arange(trees) % wards]
    table = inventory.trees.assign(ward=pd.Series(names, index=inventory.trees.index).astype("str"))
    inventory = replace(inventory, trees=table)
    assessment = assess(inventory, Practice(), **YEAR)
    stock = take_stock(inventory, assessment, crews, {"": 3.0, "Ward 1": 6.0})
    return look_ahead(stock, chances)
