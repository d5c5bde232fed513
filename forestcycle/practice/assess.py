"""Assess a whole inventory: urgency, work, dose and recall of every tree."""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.inventory.schema import Inventory
from forestcycle.practice import note as notes
from forestcycle.practice.age_class import AgeClasses, age_classes
from forestcycle.practice.assessment import (
    AGE_CLASSES,
    RECALL_STATES,
    SKILLS,
    TREE_DTYPES,
    WORK_DTYPES,
    Assessment,
)
from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray, load_catalogue
from forestcycle.practice.conductors import conductor_cautions, needs_line_clearance
from forestcycle.practice.conflicts import Resolution, resolve
from forestcycle.practice.defects import Findings, Surroundings, find, set_aside_rows
from forestcycle.practice.dose import DoseLimits, dose_limits, usual_doses
from forestcycle.practice.growth import CurveChoice, GrowthModel, load_growth
from forestcycle.practice.history import History, read_history, years_between
from forestcycle.practice.labour import Labour, VisitLabour, load_labour, skill_needed, visit_labour
from forestcycle.practice.prescription import (
    Items,
    VisitRules,
    Wounds,
    load_packing_rules,
    load_wounds,
    pack,
    without_done,
    work_items,
)
from forestcycle.practice.prior import prior_findings
from forestcycle.practice.priority import (
    Circumstances,
    Parts,
    Points,
    load_points,
    load_target_weights,
    priority,
    share_lost,
)
from forestcycle.practice.recall import Recall, load_recall, recall
from forestcycle.practice.requests import OpenRequests, open_requests
from forestcycle.practice.season import closed_windows
from forestcycle.practice.species import SpeciesMatch, match_species
from forestcycle.practice.state import SOUND, STRESSED, states
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.waiting import after, years_left
from forestcycle.progress import Progress, Step, silent
from forestcycle.settings.practice import Practice

WITHOUT_TRUCK = ("park", "playground")
COST_COLUMNS = {"item": Column(), "cents": Column("number", least=0)}
DISPOSAL = "disposal per kg of brush"
TRAFFIC = "traffic control at a street with a lift"


@dataclass(frozen=True)
class Judgement:
    """Everything that an assessment worked out, for whoever explains it.

    Attributes
    ----------
    on : date
        Day of the assessment.
    match, growth, curves : what each tree is, and how its kind grows
    height_m, crown_diameter_m, mature_dbh_cm, growth_cm_per_year : ndarray
        Measured, else from the growth tables.
    ages : AgeClasses
    age_class, state : ndarray of int64
        Positions in ``AGE_CLASSES`` and ``STATES``.
    history : History
    limits : DoseLimits
    rules : VisitRules
    catalogue : Catalogue
    wounds : Wounds
    resolution : Resolution
        Findings of which work remains, observed or prior.
    items : Items
        Packed.
    skill, item_minutes : per entry of ``items``
    labour : Labour
    recall : Recall
    circumstances : Circumstances
    points : Points
    parts : Parts
    requests : OpenRequests
    """

    on: date
    match: SpeciesMatch
    growth: GrowthModel
    curves: CurveChoice
    height_m: FloatArray
    crown_diameter_m: FloatArray
    mature_dbh_cm: FloatArray
    growth_cm_per_year: FloatArray
    ages: AgeClasses
    age_class: IntArray
    state: IntArray
    history: History
    limits: DoseLimits
    rules: VisitRules
    catalogue: Catalogue
    wounds: Wounds
    resolution: Resolution
    items: Items
    skill: IntArray
    item_minutes: FloatArray
    labour: Labour
    recall: Recall
    circumstances: Circumstances
    points: Points
    parts: Parts
    requests: OpenRequests


def assess(
    inventory: Inventory,
    practice: Practice,
    *,
    on: date,
    year_end: date,
    year_start: date | None = None,
    folder: Path | None = None,
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
    progress : callable

    Returns
    -------
    Assessment

    Raises
    ------
    SettingsError
        Where a table or a name in ``practice`` does not fit.
    """
    return _assess(inventory, practice, on, year_end, year_start, folder, progress)[0]


def judge(
    inventory: Inventory,
    practice: Practice,
    *,
    on: date,
    year_end: date,
    folder: Path | None = None,
) -> Judgement:
    """Assess, and return what lies behind the figures instead of the figures.

    Parameters are those of :func:`assess`.
    """
    return _assess(inventory, practice, on, year_end, None, folder, silent)[1]


def _assess(
    inventory: Inventory,
    practice: Practice,
    on: date,
    year_end: date,
    year_start: date | None,
    folder: Path | None,
    progress: Progress,
) -> tuple[Assessment, Judgement]:
    if folder is None and practice.tables is not None:
        folder = Path(practice.tables)
    judgement, set_aside = _judge(inventory, practice, on, year_end, folder, progress)
    progress(Step("assess: seasons"))
    season, closed = closed_windows(
        judgement.match,
        rules=practice.seasons,
        start=year_start or on,
        end=year_end,
        folder=folder,
    )
    progress(Step("assess: notes for crews"))
    trees, work = _tables(inventory, practice, judgement, season, folder)
    return Assessment(trees, work, closed, set_aside, on), judgement


def _judge(
    inventory: Inventory,
    practice: Practice,
    on: date,
    year_end: date,
    folder: Path | None,
    progress: Progress,
) -> tuple[Judgement, pd.DataFrame]:
    trees = inventory.trees
    dbh_cm = trees["dbh_cm"].to_numpy(dtype="float64")
    catalogue, wounds = load_catalogue(folder=folder), load_wounds(folder=folder)

    progress(Step("assess: growth and age class"))
    match = match_species(trees["species"], folder=folder)
    growth = load_growth(region=practice.growth_region, folder=folder)
    curves = growth.choose(match)
    height_m = _filled(trees["height_m"], growth.height_m(curves.curve, dbh_cm))
    crown_m = _filled(trees["crown_diameter_m"], growth.crown_diameter_m(curves.curve, dbh_cm))
    mature_cm = match.column("mature_dbh_cm").astype("float64")
    pace = growth.growth_cm_per_year(curves.curve, dbh_cm)
    planted = trees["planted_on"].to_numpy(dtype="datetime64[ns]")
    ages = age_classes(dbh_cm, mature_cm, planted_on=planted, on=on, folder=folder)
    age_class = np.asarray(ages.age_class.codes, dtype=np.int64)
    state = states(trees["condition"], ages.newly_planted)

    progress(Step("assess: dose limits and history"))
    limits = dose_limits(
        practice.dose_limits, age_class, state, ages.years_since_planting, folder=folder
    )
    rules = _visit_rules(practice, age_class, state, ages, limits, folder)
    tree_ids = pd.Index(trees["tree_id"])
    history, visits_aside = read_history(inventory.visits, tree_ids, on=on)
    sound_usual = np.maximum(rules.later_usual, rules.least_part)
    history = _with_usual_doses(history, sound_usual)

    progress(Step("assess: defects and prescriptions"))
    around = Surroundings(
        dbh_cm, height_m, practice.street_clearance_m, practice.footway_clearance_m
    )
    observed, defects_aside = find(inventory.defects, tree_ids, around, catalogue, on=on)
    dead = (trees["condition"] == "dead").to_numpy(dtype=bool)
    observed = observed.take(~dead[observed.tree])
    relative = ages.relative_diameter
    kept = resolve(observed, catalogue)
    recorded_items = without_done(
        work_items(kept, catalogue, age_class, relative, wounds, look_first=_none()),
        kept.findings,
        history.last_visit,
        _dose_since_observed(kept.findings, history, len(trees)),
    )
    resolution, items = _with_priors(
        kept, recorded_items, catalogue, wounds, match, inventory, history, ages, dead, on, folder
    )
    items = pack(items, catalogue, rules)

    progress(Step("assess: recall and priority"))
    labour = load_labour(folder=folder)
    skill, item_minutes = _item_labour(inventory, practice, items, catalogue, height_m, labour)
    needed = np.bincount(items.tree, weights=items.dose, minlength=len(trees))
    due = recall(
        load_recall(folder=folder),
        on=on,
        age_class=age_class,
        state=state,
        growth_cm_per_year=pace,
        planted_on=planted,
        last_visit=history.last_visit,
        last_dose=np.nan_to_num(history.last_dose),
        usual_dose=sound_usual,
        remaining_dose=needed,
    )
    requests = open_requests(inventory.requests, tree_ids, history.last_visit)
    points = load_points(folder=folder)
    years = points.waiting_years
    later_cm = growth.dbh_after(curves.curve, dbh_cm, np.full(len(trees), years))
    later_cm = np.maximum(later_cm, dbh_cm)
    answered = resolution.findings.take(np.unique(items.finding[items.finding >= 0]))
    left = years_left(
        answered,
        catalogue,
        wounds,
        dbh_cm=dbh_cm,
        growth_cm_per_year=pace,
        mature_dbh_cm=mature_cm,
    )
    later = after(
        years,
        answered,
        catalogue,
        wounds,
        dbh_cm=dbh_cm,
        later_dbh_cm=later_cm,
        mature_dbh_cm=mature_cm,
    )
    worse = _mean_per_tree(answered.tree, later.dose_factor, len(trees))
    circumstances = Circumstances(
        share_lost=share_lost(answered, catalogue, left, points, len(trees)),
        minutes_saved=_minutes_saved(practice, items, dbh_cm, later_cm, needed, worse, labour),
        worst_severity=_worst(answered, catalogue, len(trees))[1],
        target_weight=trees["target"].map(load_target_weights(folder=folder)).to_numpy("float64"),
        ripeness=_ripeness(due, year_end),
        spans_overdue=_spans_overdue(due, year_end),
        requested=requests.requested,
        mandatory=requests.mandatory,
        workable=np.bincount(items.tree, minlength=len(trees)) > 0,
    )
    judgement = Judgement(
        on=on,
        match=match,
        growth=growth,
        curves=curves,
        height_m=height_m,
        crown_diameter_m=crown_m,
        mature_dbh_cm=mature_cm,
        growth_cm_per_year=pace,
        ages=ages,
        age_class=age_class,
        state=state,
        history=history,
        limits=limits,
        rules=rules,
        catalogue=catalogue,
        wounds=wounds,
        resolution=resolution,
        items=items,
        skill=skill,
        item_minutes=item_minutes,
        labour=labour,
        recall=due,
        circumstances=circumstances,
        points=points,
        parts=priority(circumstances, points, practice.weights),
        requests=requests,
    )
    return judgement, set_aside_rows([t for t in (defects_aside, visits_aside) if len(t)])


def _none() -> IntArray:
    return np.empty(0, dtype=np.int64)


def _filled(measured: "pd.Series[float]", from_tables: FloatArray) -> FloatArray:
    values = measured.to_numpy(dtype="float64")
    return np.where(np.isnan(values), from_tables, values)


def _visit_rules(
    practice: Practice,
    age_class: IntArray,
    state: IntArray,
    ages: AgeClasses,
    limits: DoseLimits,
    folder: Path | None,
) -> VisitRules:
    """Limits and usual doses now, and at later visits as for a sound tree."""
    sound = np.full(len(state), SOUND)
    years = ages.years_since_planting
    later = dose_limits(practice.dose_limits, age_class, sound, years, folder=folder).limit
    later_usual = usual_doses(age_class, sound, later, folder=folder)
    least_part, finish = load_packing_rules(folder=folder)
    return VisitRules(
        limit=limits.limit,
        usual=usual_doses(age_class, state, limits.limit, folder=folder),
        later_limit=later,
        later_usual=np.where(later_usual > 0, later_usual, later),
        least_part=least_part,
        finish=finish,
    )


def _with_usual_doses(history: History, usual: FloatArray) -> History:
    """A visit without a recorded dose is taken to have removed the usual one."""
    dose = np.where(np.isnan(history.dose), usual[history.tree], history.dose)
    visited = ~np.isnat(history.last_visit)
    last = np.where(visited & np.isnan(history.last_dose), usual, history.last_dose)
    return replace(history, dose=dose, last_dose=last)


def _dose_since_observed(findings: Findings, history: History, trees: int) -> FloatArray:
    first = np.full(trees, np.datetime64("NaT"), dtype="datetime64[ns]")
    order = np.lexsort((findings.observed_on, findings.tree))[::-1]
    first[findings.tree[order]] = findings.observed_on[order]
    day_after = first + np.timedelta64(1, "D")
    return history.dose_since(np.arange(trees), day_after)


def _with_priors(
    kept: Resolution,
    recorded: Items,
    catalogue: Catalogue,
    wounds: Wounds,
    match: SpeciesMatch,
    inventory: Inventory,
    history: History,
    ages: AgeClasses,
    dead: npt.NDArray[np.bool_],
    on: date,
    folder: Path | None,
) -> tuple[Resolution, Items]:
    """Add a prior, and a look, for every living tree without work on record."""
    trees = inventory.trees
    dbh_cm = trees["dbh_cm"].to_numpy(dtype="float64")
    age_class = np.asarray(ages.age_class.codes, dtype=np.int64)
    without = ~dead
    without[recorded.tree] = False
    since = years_between(history.last_visit, np.datetime64(on, "ns"))
    priors = prior_findings(
        catalogue,
        age_class,
        match.column("habit").astype(object),
        since,
        dbh_cm,
        without_record=without,
        folder=folder,
    )
    prior_resolution = Resolution(priors, np.zeros(len(priors), dtype=np.bool_), kept.dropped)
    prior_items = work_items(
        prior_resolution,
        catalogue,
        age_class,
        ages.relative_diameter,
        wounds,
        look_first=np.flatnonzero(without),
    )
    shifted = replace(
        prior_items,
        finding=np.where(prior_items.finding >= 0, prior_items.finding + len(kept.findings), -1),
    )
    both = Findings(
        *(
            np.concatenate([getattr(kept.findings, name), getattr(priors, name)])
            for name in Findings.__dataclass_fields__
        )
    )
    shortened = np.concatenate([kept.shortened, prior_resolution.shortened])
    items = Items(
        *(
            np.concatenate([getattr(recorded, name), getattr(shifted, name)])
            for name in Items.__dataclass_fields__
        )
    )
    ordered = items.take(np.argsort(items.tree, kind="stable"))
    return Resolution(both, shortened, kept.dropped), ordered


def _visits(items: Items) -> tuple[IntArray, IntArray]:
    """Return the first entry of each (tree, visit), and for each item its (tree, visit)."""
    new = np.ones(len(items), dtype=np.bool_)
    new[1:] = (np.diff(items.tree) != 0) | (np.diff(items.visit) != 0)
    return np.flatnonzero(new), np.cumsum(new) - 1


def _item_labour(
    inventory: Inventory,
    practice: Practice,
    items: Items,
    catalogue: Catalogue,
    height_m: FloatArray,
    labour: Labour,
) -> tuple[IntArray, FloatArray]:
    """Skill of each item's visit, and crew minutes shared over the items of a visit."""
    first, visit = _visits(items)
    reach = np.append(catalogue.defects["reach"].to_numpy(dtype="float64"), 0.0)
    work_height = reach[items.defect] * height_m[items.tree]
    highest = np.zeros(len(first))
    np.maximum.at(highest, visit, work_height)
    tree = items.tree[first]
    near = needs_line_clearance(inventory.trees["conductors"])
    truck = ~inventory.trees["target"].isin(WITHOUT_TRUCK).to_numpy(dtype=bool)
    skill = skill_needed(highest, near[tree], truck_access=truck[tree], labour=labour)
    dose = np.bincount(visit, weights=items.dose, minlength=len(first))
    count = np.bincount(visit, minlength=len(first))
    dbh_cm = inventory.trees["dbh_cm"].to_numpy(dtype="float64")
    hours = visit_labour(
        dbh_cm[tree], dose, count, skill, labour=labour, people_per_crew=practice.people_per_crew
    )
    effort = items.dose + labour.reference_dose / 10
    share = effort / np.bincount(visit, weights=effort, minlength=len(first))[visit]
    codes = np.asarray(skill.codes, dtype=np.int64)
    return codes[visit], hours.minutes[visit] * share


def _minutes_saved(
    practice: Practice,
    items: Items,
    dbh_cm: FloatArray,
    later_cm: FloatArray,
    needed: FloatArray,
    worse: FloatArray,
    labour: Labour,
) -> FloatArray:
    """Crew minutes that all the work would take more after waiting."""
    count = np.bincount(items.tree, minlength=len(dbh_cm))
    from_ground = pd.Categorical.from_codes(
        np.zeros(len(dbh_cm), dtype=np.int8), categories=list(SKILLS)
    )

    def minutes(diameter_cm: FloatArray, dose: FloatArray) -> FloatArray:
        people = practice.people_per_crew
        return visit_labour(
            diameter_cm, dose, count, from_ground, labour=labour, people_per_crew=people
        ).minutes

    return minutes(later_cm, np.minimum(needed * worse, 1)) - minutes(dbh_cm, needed)


def _mean_per_tree(tree: IntArray, values: FloatArray, trees: int) -> FloatArray:
    count = np.bincount(tree, minlength=trees)
    total = np.bincount(tree, weights=values, minlength=trees)
    return np.where(count > 0, total / np.maximum(count, 1), 1.0)


def _worst(findings: Findings, catalogue: Catalogue, trees: int) -> tuple[IntArray, FloatArray]:
    """Return the weightiest finding of each tree (-1 for none) and its severity."""
    pressure = findings.severity * catalogue.column("weight", findings.defect)
    order = np.lexsort((pressure, findings.tree))
    worst = np.full(trees, -1, dtype=np.int64)
    worst[findings.tree[order]] = order
    severity = np.zeros(trees)
    has = worst >= 0
    severity[has] = findings.severity[worst[has]]
    return worst, severity


def _ripeness(due: Recall, year_end: date) -> FloatArray:
    end = np.datetime64(year_end, "ns")
    open_days = (end - due.not_before) / np.timedelta64(1, "D") + 1
    span = np.maximum((due.due - due.not_before) / np.timedelta64(1, "D") + 1, 1)
    return np.clip(open_days / span, 0, 1)


def _spans_overdue(due: Recall, year_end: date) -> FloatArray:
    late = (np.datetime64(year_end, "ns") - due.due) / np.timedelta64(1, "D")
    span = np.maximum((due.overdue_after - due.due) / np.timedelta64(1, "D"), 1)
    return np.maximum(late / span, 0)


def _costs(
    inventory: Inventory, brush_kg: FloatArray, skill: IntArray, folder: Path | None
) -> IntArray:
    cents = load_table("costs", COST_COLUMNS, folder=folder).set_index("item")["cents"]
    lifted = skill == SKILLS.index("lift")
    in_street = (inventory.trees["target"] == "street").to_numpy(dtype=bool)
    traffic = np.where(lifted & in_street, float(cents[TRAFFIC]), 0.0)
    return np.rint(brush_kg * float(cents[DISPOSAL]) + traffic).astype(np.int64)


def _next_visit(
    inventory: Inventory, practice: Practice, j: Judgement, dose: FloatArray
) -> tuple[IntArray, VisitLabour]:
    """Skill and labour of each tree's next visit."""
    now = j.items.visit == 1
    skill = np.zeros(len(dose), dtype=np.int64)
    skill[j.items.tree[now]] = j.skill[now]
    count = np.bincount(j.items.tree[now], minlength=len(dose))
    dbh_cm = inventory.trees["dbh_cm"].to_numpy(dtype="float64")
    categories = pd.Categorical.from_codes(skill.astype(np.int8), categories=list(SKILLS))
    people = practice.people_per_crew
    hours = visit_labour(dbh_cm, dose, count, categories, labour=j.labour, people_per_crew=people)
    return skill, hours


def _tables(
    inventory: Inventory,
    practice: Practice,
    j: Judgement,
    season: IntArray,
    folder: Path | None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    trees, items = inventory.trees, j.items
    count = len(trees)
    now = items.visit == 1
    dose = np.bincount(items.tree[now], weights=items.dose[now], minlength=count)
    needed = np.bincount(items.tree, weights=items.dose, minlength=count)
    visits = np.zeros(count, dtype=np.int64)
    np.maximum.at(visits, items.tree, items.visit)
    largest_cut = np.zeros(count)
    np.maximum.at(largest_cut, items.tree[now], items.cut_cm[now])
    skill, hours = _next_visit(inventory, practice, j, dose)
    findings = j.resolution.findings
    answered = np.unique(items.finding[items.finding >= 0])
    worst, severity = _worst(findings.take(answered), j.catalogue, count)
    names = np.array([*j.catalogue.names, ""], dtype=object)
    worst_code = (
        np.where(worst >= 0, findings.defect[answered][worst], -1) if len(answered) else worst
    )
    prior = np.zeros(count, dtype=np.bool_)
    prior[items.tree[items.finding < 0]] = True
    finding = np.maximum(items.finding, 0)
    positions = np.where(items.finding >= 0, _at(findings.position, finding, ""), "")
    item_prior = np.where(items.finding >= 0, _at(findings.prior, finding, False), False)  # noqa: FBT003
    said = notes.phrases(items, positions, j.catalogue, item_prior.astype(bool))
    crew = notes.crew_texts(
        items,
        said,
        notes.Visit(
            dose=dose,
            dose_limit=j.limits.limit,
            largest_cut_cm=largest_cut,
            visits_needed=visits,
            prior=prior,
            dead=(trees["condition"] == "dead").to_numpy(dtype=bool),
            stressed=j.state == STRESSED,
            skill=skill,
            target=trees["target"].to_numpy(dtype=object),
            conductor_caution=conductor_cautions(trees["conductors"]),
        ),
        j.catalogue,
        j.wounds,
    )
    columns = {
        "tree_id": trees["tree_id"].to_numpy(),
        "age_class": j.ages.age_class,
        "mature_dbh_cm": j.mature_dbh_cm,
        "relative_diameter": j.ages.relative_diameter,
        "growth_table": j.curves.table,
        "growth_cm_per_year": j.growth_cm_per_year,
        "height_m": j.height_m,
        "crown_diameter_m": j.crown_diameter_m,
        "worst_defect": names[worst_code],
        "severity": severity,
        "defects_are_prior": prior,
        "dose_needed": needed,
        "dose": dose,
        "dose_limit": j.limits.limit,
        "visits_needed": visits,
        "not_before": j.recall.not_before,
        "due": j.recall.due,
        "overdue_after": j.recall.overdue_after,
        "recall_state": pd.Categorical.from_codes(j.recall.state, categories=list(RECALL_STATES)),
        "priority": j.parts.total,
        "priority_waiting": j.parts.waiting,
        "priority_overdue": j.parts.overdue,
        "priority_target": j.parts.target,
        "priority_request": j.parts.request,
        "minutes": hours.minutes,
        "brush_kg": hours.brush_kg,
        "skill": pd.Categorical.from_codes(skill, categories=list(SKILLS)),
        "cost_cents": _costs(inventory, hours.brush_kg, skill, folder),
        "season": season,
        "work": crew.work,
        "note": crew.note,
        "cautions": crew.cautions,
        "mandatory": j.requests.mandatory,
        "deadline": j.requests.deadline,
    }
    table = pd.DataFrame({name: columns[name] for name in TREE_DTYPES})
    table = table.astype({name: kind for name, kind in TREE_DTYPES.items() if kind == "str"})
    return table, _work_table(items, positions, said, j)


def _at(values: npt.NDArray[np.generic], rows: IntArray, empty: object) -> npt.NDArray[np.generic]:
    return values[rows] if len(values) else np.full(len(rows), empty)


def _work_table(
    items: Items, positions: npt.NDArray[np.generic], said: notes.Texts, j: Judgement
) -> pd.DataFrame:
    first, visit = _visits(items)
    actions = j.catalogue.actions
    sources = np.array([*j.catalogue.defects["source"], "common practice"], dtype=object)
    names = np.array([*j.catalogue.names, ""], dtype=object)
    columns = {
        "tree": items.tree,
        "visit": items.visit,
        "order": np.arange(len(items)) - first[visit] + 1 if len(items) else items.tree,
        "action": actions["action"].to_numpy(dtype=object)[items.action],
        "defect": names[items.defect],
        "position": positions,
        "dose": items.dose,
        "minutes": j.item_minutes,
        "cut_diameter_cm": items.cut_cm,
        "text": said.values,
        "source": sources[items.defect],
    }
    table = pd.DataFrame({name: columns[name] for name in WORK_DTYPES})
    return table.astype({name: kind for name, kind in WORK_DTYPES.items() if kind == "str"})


__all__ = ["AGE_CLASSES", "Judgement", "assess", "judge"]
