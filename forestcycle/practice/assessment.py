"""What the practice room hands on: one row of judgement per tree."""

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.settings.practice import Practice

Closure = tuple[date, date, str]
"""First and last closed day, both inclusive, and the rule that closes them."""

AGE_CLASSES = ("young", "semi-mature", "mature", "old")
RECALL_STATES = ("not yet due", "due", "overdue")
SKILLS = ("ground", "climb", "lift", "line_clearance")
GROWTH_TABLES = ("species", "genus", "size class")

TREE_DTYPES: dict[str, str] = {
    "tree_id": "str",
    "age_class": "category",
    "mature_dbh_cm": "float64",
    "relative_diameter": "float64",
    "growth_table": "category",
    "growth_cm_per_year": "float64",
    "height_m": "float64",
    "crown_diameter_m": "float64",
    "worst_defect": "str",
    "severity": "float64",
    "defects_are_prior": "bool",
    "dose_needed": "float64",
    "dose": "float64",
    "dose_limit": "float64",
    "visits_needed": "int64",
    "not_before": "datetime64[ns]",
    "due": "datetime64[ns]",
    "overdue_after": "datetime64[ns]",
    "recall_state": "category",
    "priority": "float64",
    "priority_waiting": "float64",
    "priority_overdue": "float64",
    "priority_target": "float64",
    "priority_request": "float64",
    "minutes": "float64",
    "brush_kg": "float64",
    "skill": "category",
    "cost_cents": "int64",
    "season": "int64",
    "work": "str",
    "note": "str",
    "cautions": "str",
    "mandatory": "bool",
    "deadline": "datetime64[ns]",
}

WORK_DTYPES: dict[str, str] = {
    "tree": "int64",
    "visit": "int64",
    "order": "int64",
    "action": "str",
    "defect": "str",
    "position": "str",
    "dose": "float64",
    "minutes": "float64",
    "cut_diameter_cm": "float64",
    "text": "str",
    "source": "str",
}

PARTS_OF_PRIORITY = (
    "priority_waiting",
    "priority_overdue",
    "priority_target",
    "priority_request",
)


@dataclass(frozen=True)
class Assessment:
    """Every tree's urgency, work, dose and recall on one day.

    Attributes
    ----------
    trees : DataFrame
        One row per tree of the inventory, in its order, with the columns of
        ``TREE_DTYPES``. Doses are shares of live crown, 0 to 1; money is
        integer cents; dates are midnight.
    work : DataFrame
        One row per work item, with the columns of ``WORK_DTYPES``; ``tree``
        is the row in ``trees``, ``visit`` counts from 1 and ``order`` from 1
        within a visit. An item split over two visits has two rows.
    season_closed : list of list of (date, date, str)
        For each season group the closed spans inside the planning span, both
        ends inclusive, with the rule that closes them. ``trees["season"]``
        holds the group.
    set_aside : DataFrame
        Facts of the defects and visits tables that could not be used, in the
        layout of ``Inventory.set_aside``. The trees stay in.
    on : date
        The day as of which trees were assessed.
    year_end : date
        Last day of the period in which a visit's worth is counted.
    practice : Practice
        Tables and weights that were in force.
    folder : Path or None
        Folder with the city's own tables.
    """

    trees: pd.DataFrame
    work: pd.DataFrame
    season_closed: list[list[Closure]]
    set_aside: pd.DataFrame
    on: date
    year_end: date = date.max
    practice: Practice = field(default_factory=Practice)
    folder: Path | None = None
