"""Assess a whole inventory: urgency, work, dose and recall of every tree."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from forestcycle.inventory.schema import Inventory
from forestcycle.practice import note as notes
from forestcycle.practice.assessment import (
    RECALL_STATES,
    SKILLS,
    TREE_DTYPES,
    WORK_DTYPES,
    Assessment,
)
from forestcycle.practice.catalogue import FloatArray, IntArray
from forestcycle.practice.conductors import conductor_cautions
from forestcycle.practice.effort import Effort, effort
from forestcycle.practice.installed import tables_folder
from forestcycle.practice.labour import Labour, load_labour
from forestcycle.practice.programme import Programme, draw_up, per_tree
from forestcycle.practice.season import closed_windows
from forestcycle.practice.standing import Standing, stand
from forestcycle.practice.state import STRESSED
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.urgency import Urgency, urgency
from forestcycle.practice.words import from_codes
from forestcycle.progress import Progress, Step, silent
from forestcycle.settings.practice import Practice

COST_COLUMNS = {"item": Column(once=True), "cents": Column("number", least=0)}
DISPOSAL = "disposal per kg of brush"
TRAFFIC = "traffic control at a street with a lift"


@dataclass(frozen=True)
class Judgement:
    """What lies behind an assessment's figures.

    Attributes
    ----------
    standing : Standing
        What each tree is.
    programme : Programme
        What is wrong and which visit answers what.
    labour : Labour
    effort : Effort
        Minutes, brush and skill.
    urgency : Urgency
        Recall and priority.
    """

    standing: Standing
    programme: Programme
    labour: Labour
    effort: Effort
    urgency: Urgency


def assess(
    inventory: Inventory,
    practice: Practice,
    *,
    on: date,
    year_end: date,
    year_start: date | None = None,
    folder: Path | None = None,
    units: str = "metric",
    progress: Progress = silent,
) -> Assessment:
    """Assess every tree of an inventory.

    Parameters
    ----------
    inventory : Inventory
    practice : Practice
        Tables and weights in force.
    on : date
        Day as of which ages, dues and promises are counted.
    year_end : date
        Last day of the planning span; what would be overdue by then counts.
    year_start : date, optional
        First day of the planning span, ``on`` by default; clips the seasons.
    folder : Path, optional
        Folder with the city's own tables; ``practice.tables`` by default.
    units : {"metric", "us"}
        Of the diameters in the crew's notes; all else stays metric.
    progress : callable

    Returns
    -------
    Assessment

    Raises
    ------
    SettingsError
        Where a table or a name in ``practice`` does not fit.
    """
    folder = folder or tables_folder(practice.tables, Path())
    found = judge(inventory, practice, on=on, year_end=year_end, folder=folder, progress=progress)
    progress(Step("assess: seasons"))
    season, closed = closed_windows(
        found.standing.match,
        rules=practice.seasons,
        start=year_start or on,
        end=year_end,
        folder=folder,
    )
    progress(Step("assess: words for crews"))
    said = notes.phrases(found.programme)
    return Assessment(
        trees=_tree_table(inventory, found, said, season, folder, units),
        work=_work_table(found, said),
        season_closed=closed,
        set_aside=found.programme.set_aside,
        on=on,
        year_end=year_end,
        practice=practice,
        folder=folder,
    )


def judge(
    inventory: Inventory,
    practice: Practice,
    *,
    on: date,
    year_end: date,
    folder: Path | None = None,
    progress: Progress = silent,
) -> Judgement:
    """Work out everything that :func:`assess` puts into tables.

    Parameters are those of :func:`assess`.

    Returns
    -------
    Judgement
    """
    progress(Step("assess: growth and age class"))
    standing = stand(inventory, region=practice.growth_region, on=on, folder=folder)
    progress(Step("assess: defects and prescriptions"))
    programme = draw_up(inventory, practice, standing, on=on, folder=folder)
    progress(Step("assess: minutes and brush"))
    labour = load_labour(folder=folder)
    people = practice.people_per_crew
    efforts = effort(inventory, standing, programme, labour, people_per_crew=people)
    progress(Step("assess: recall and priority"))
    urgent = urgency(
        inventory,
        practice,
        standing,
        programme,
        labour,
        on=on,
        year_end=year_end,
        folder=folder,
    )
    return Judgement(standing, programme, labour, efforts, urgent)


def visit_costs(
    inventory: Inventory, brush_kg: FloatArray, skill: pd.Categorical, *, folder: Path | None = None
) -> IntArray:
    """Return each visit's direct cost besides the crew's time.

    Parameters
    ----------
    inventory : Inventory
    brush_kg : ndarray of float64
    skill : Categorical
    folder : Path, optional
        Folder with the city's own ``costs.csv``.

    Returns
    -------
    ndarray of int64
        Integer cents: disposal by weight, and traffic control where a lift
        stands in a street.
    """
    cents = load_table("costs", COST_COLUMNS, folder=folder).set_index("item")["cents"]
    lifted = skill.codes == SKILLS.index("lift")
    in_street = (inventory.trees["target"] == "street").to_numpy(dtype=bool)
    traffic = np.where(lifted & in_street, float(cents[TRAFFIC]), 0.0)
    return np.rint(brush_kg * float(cents[DISPOSAL]) + traffic).astype(np.int64)


def _tree_table(
    inventory: Inventory,
    found: Judgement,
    said: notes.Phrases,
    season: IntArray,
    folder: Path | None,
    units: str,
) -> pd.DataFrame:
    standing, programme, parts = found.standing, found.programme, found.urgency.parts
    trees, items, due = len(standing), programme.items, found.urgency.recall
    now = items.visit == 1
    visits = np.zeros(trees, dtype=np.int64)
    np.maximum.at(visits, items.tree, items.visit)
    names = np.array([*programme.catalogue.names, ""], dtype=object)
    dose = per_tree(items.tree[now], items.dose[now], trees)
    crew = _crew_texts(inventory, found, said, dose, units)
    columns = {
        "tree_id": standing.tree_ids,
        "age_class": standing.ages.age_class,
        "mature_dbh_cm": standing.mature_dbh_cm,
        "relative_diameter": standing.ages.relative_diameter,
        "growth_table": standing.curves.table,
        "growth_cm_per_year": standing.growth_cm_per_year,
        "height_m": standing.height_m,
        "crown_diameter_m": standing.crown_diameter_m,
        "worst_defect": names[np.append(programme.findings.defect, -1)[found.urgency.worst]],
        "severity": found.urgency.circumstances.worst_severity,
        "defects_are_prior": programme.without_record,
        "dose_needed": per_tree(items.tree, items.dose, trees),
        "dose": dose,
        "dose_limit": programme.limits.limit,
        "visits_needed": visits,
        "not_before": due.not_before,
        "due": due.due,
        "overdue_after": due.overdue_after,
        "recall_state": from_codes(due.state, RECALL_STATES),
        "priority": parts.total,
        "priority_waiting": parts.waiting,
        "priority_overdue": parts.overdue,
        "priority_target": parts.target,
        "priority_request": parts.request,
        "minutes": found.effort.minutes,
        "brush_kg": found.effort.brush_kg,
        "skill": found.effort.skill,
        "cost_cents": visit_costs(
            inventory, found.effort.brush_kg, found.effort.skill, folder=folder
        ),
        "season": season,
        "work": crew.work,
        "note": crew.note,
        "cautions": crew.cautions,
        "mandatory": found.urgency.requests.mandatory,
        "deadline": found.urgency.requests.deadline,
    }
    return _table(columns, TREE_DTYPES)


def _crew_texts(
    inventory: Inventory, found: Judgement, said: notes.Phrases, dose: FloatArray, units: str
) -> notes.CrewTexts:
    """Say the coming visit to each tree in words for the crew."""
    visit = notes.Visit(
        dose=dose,
        prior=found.programme.without_record,
        dead=found.standing.dead,
        stressed=found.standing.state == STRESSED,
        skill=found.effort.skill,
        target=inventory.trees["target"],
        conductor_caution=conductor_cautions(inventory.trees["conductors"]),
    )
    return notes.crew_texts(found.programme, said, visit, units=units)


def _work_table(found: Judgement, said: notes.Phrases) -> pd.DataFrame:
    programme = found.programme
    items, catalogue = programme.items, programme.catalogue
    sources = np.array([*catalogue.defects["source"], "common practice"], dtype=object)
    names = np.array([*catalogue.names, ""], dtype=object)
    visit = items.tree * (items.visit.max(initial=0) + 1) + items.visit
    columns = {
        "tree": items.tree,
        "visit": items.visit,
        "order": np.arange(len(items)) - np.searchsorted(visit, visit) + 1,
        "action": catalogue.actions["action"].to_numpy(dtype=object)[items.action],
        "defect": names[items.defect],
        "position": notes.positions(programme),
        "dose": items.dose,
        "minutes": found.effort.item_minutes,
        "cut_diameter_cm": items.cut_cm,
        "text": notes.item_texts(programme, said),
        "source": sources[items.defect],
    }
    return _table(columns, WORK_DTYPES)


def _table(columns: dict[str, object], dtypes: dict[str, str]) -> pd.DataFrame:
    table = pd.DataFrame({name: columns[name] for name in dtypes})
    return table.astype({name: kind for name, kind in dtypes.items() if kind == "str"})
