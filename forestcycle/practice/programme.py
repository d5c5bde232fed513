"""Every tree's programme: what is wrong with it and which visit answers what."""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.errors import Fault, SettingsError
from forestcycle.inventory.schema import Inventory
from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray, load_catalogue
from forestcycle.practice.conflicts import Resolution, resolve, unopposed
from forestcycle.practice.defects import Findings, Surroundings, find
from forestcycle.practice.dose import DoseLimits, dose_limits, usual_doses
from forestcycle.practice.history import History, read_history, years_between
from forestcycle.practice.prescription import with_looks, without_done, work_items
from forestcycle.practice.prior import prior_findings
from forestcycle.practice.recall import (
    least_years,
    load_recall,
    load_urgent_faults,
    still_resting,
)
from forestcycle.practice.set_aside import joined
from forestcycle.practice.standing import Standing
from forestcycle.practice.state import SOUND
from forestcycle.practice.visits import VisitRules, load_packing_rules, pack
from forestcycle.practice.work_items import Items
from forestcycle.practice.wounds import Wounds, load_wounds
from forestcycle.settings.practice import Practice

CRACKED = "crack or cavity"
"""The defect that a risk assessor must see before any live wood is taken."""


@dataclass(frozen=True)
class Programme:
    """Work of all trees, packed into visits, and what it rests on.

    Attributes
    ----------
    catalogue : Catalogue
    wounds : Wounds
    history : History
        A visit without a recorded dose counts with the usual one.
    limits : DoseLimits
    rules : VisitRules
    findings : Findings
        What the work answers: observed, or a prior where nothing is on record.
    items : Items
        Packed; ``finding`` is an entry of ``findings``.
    without_record : ndarray of bool
        Trees for which a prior stands in; their visit begins with a look, as
        does that to a tree that may lose no live wood now.
    urgent_grace_years : ndarray of float64
        Grace of a fault that is due at once, NaN for trees without one.
    dropped : DataFrame
        Observed findings without work of their own, with the rule.
    set_aside : DataFrame
        Observations and visits that could not be used.
    """

    catalogue: Catalogue
    wounds: Wounds
    history: History
    limits: DoseLimits
    rules: VisitRules
    findings: Findings
    items: Items
    without_record: npt.NDArray[np.bool_]
    urgent_grace_years: FloatArray
    dropped: pd.DataFrame
    set_aside: pd.DataFrame


def draw_up(
    inventory: Inventory,
    practice: Practice,
    standing: Standing,
    *,
    on: date,
    folder: Path | None = None,
) -> Programme:
    """Find what is wrong, prescribe, and pack into visits.

    Parameters
    ----------
    inventory : Inventory
    practice : Practice
    standing : Standing
    on : date
        Day of the assessment.
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Programme

    Raises
    ------
    SettingsError
        If a table or a name in ``practice`` does not fit.
    """
    catalogue, wounds = load_catalogue(folder=folder), load_wounds(folder=folder)
    limits, rules = limits_and_rules(practice, standing, folder=folder)
    history, visits_aside = read_history(inventory.visits, standing.tree_ids, on=on)
    history = _with_usual_doses(history, rules.sound_usual)
    around = Surroundings(
        standing.dbh_cm,
        standing.height_m,
        practice.street_clearance_m,
        practice.footway_clearance_m,
    )
    observed, defects_aside = find(inventory.defects, standing.tree_ids, around, catalogue, on=on)
    observed = observed.take(~standing.dead[observed.tree])
    resolution = resolve(observed, catalogue, standing.age_class)
    recorded = _recorded_work(resolution, catalogue, wounds, standing, history)
    without_record = ~standing.dead
    without_record[recorded.tree] = False
    priors = _priors(inventory, catalogue, standing, history, without_record, on=on, folder=folder)
    expected = _prior_work(priors, catalogue, wounds, standing)
    findings, items = _together(resolution.findings, recorded, priors, expected)
    urgent = _urgent_grace(items, catalogue, len(standing), folder)
    resting = _resting(standing, history, rules, on=on, folder=folder)
    cracked = items.trees_with(catalogue.code(CRACKED), len(standing))  # looked at, not cut
    rules = _no_live_wood(rules, cracked | (np.isfinite(urgent) & resting))
    may_only_look = np.isin(np.arange(len(standing)), recorded.tree) & (limits.limit <= 0)
    looks = np.flatnonzero(without_record | may_only_look)
    return Programme(
        catalogue=catalogue,
        wounds=wounds,
        history=history,
        limits=limits,
        rules=rules,
        findings=findings,
        items=pack(with_looks(items, looks, catalogue), catalogue, rules),
        without_record=without_record,
        urgent_grace_years=urgent,
        dropped=resolution.dropped,
        set_aside=joined([defects_aside, visits_aside]),
    )


def limits_and_rules(
    practice: Practice, standing: Standing, *, folder: Path | None = None
) -> tuple[DoseLimits, VisitRules]:
    """Look up limits and usual doses, now and at later visits as for a sound tree.

    Parameters
    ----------
    practice : Practice
    standing : Standing
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    limits : DoseLimits
    rules : VisitRules
    """
    age_class, state = standing.age_class, standing.state
    years = standing.ages.years_since_planting
    sound = np.full(len(standing), SOUND)
    limits = dose_limits(practice.dose_limits, age_class, state, years, folder=folder)
    later = dose_limits(practice.dose_limits, age_class, sound, years, folder=folder).limit
    later_usual = usual_doses(age_class, sound, later, folder=folder)
    least_part, finish = load_packing_rules(folder=folder)
    rules = VisitRules(
        limit=limits.limit,
        usual=usual_doses(age_class, state, limits.limit, folder=folder),
        later_limit=later,
        later_usual=np.where(later_usual > 0, later_usual, later),
        least_part=least_part,
        finish=finish,
    )
    return limits, rules


def _with_usual_doses(history: History, usual: FloatArray) -> History:
    """Take a visit without a recorded dose to have removed the usual one."""
    dose = np.where(np.isnan(history.dose), usual[history.tree], history.dose)
    unrecorded = ~np.isnat(history.last_visit) & np.isnan(history.last_dose)
    return replace(history, dose=dose, last_dose=np.where(unrecorded, usual, history.last_dose))


def _recorded_work(
    resolution: Resolution,
    catalogue: Catalogue,
    wounds: Wounds,
    standing: Standing,
    history: History,
) -> Items:
    """List the work that the record asks for, less what was done since."""
    items = work_items(
        resolution, catalogue, standing.age_class, standing.ages.relative_diameter, wounds
    )
    findings = resolution.findings
    first = np.full(len(standing), np.datetime64("NaT"), dtype="datetime64[ns]")
    order = np.lexsort((findings.observed_on, findings.tree))[::-1]
    first[findings.tree[order]] = findings.observed_on[order]
    day_after = (first + np.timedelta64(1, "D")).astype("datetime64[ns]")
    done = history.dose_since(np.arange(len(standing)), day_after)
    return without_done(items, findings, history.last_visit, done)


def _urgent_grace(
    items: Items, catalogue: Catalogue, trees: int, folder: Path | None
) -> FloatArray:
    """Return the shortest grace of each tree's urgent faults, NaN where it has none."""
    grace = np.full(trees, np.inf)
    for defect, years in load_urgent_faults(folder=folder).items():
        if defect not in catalogue.names:
            where = "recall_faults.csv"
            raise SettingsError(Fault(f"no defect named {defect!r}", where, "see defects.csv"))
        having = items.trees_with(catalogue.code(defect), trees)
        grace = np.where(having, np.minimum(grace, years), grace)
    return np.where(np.isfinite(grace), grace, np.nan)


def _resting(
    standing: Standing, history: History, rules: VisitRules, *, on: date, folder: Path | None
) -> npt.NDArray[np.bool_]:
    """Say which crowns still rest from their last dose on the day of the assessment."""
    least = least_years(
        load_recall(folder=folder),
        standing.age_class,
        standing.state,
        np.nan_to_num(history.last_dose),
        rules.sound_usual,
    )
    return still_resting(history.last_visit, least, on=on)


def _no_live_wood(rules: VisitRules, trees: npt.NDArray[np.bool_]) -> VisitRules:
    """Let the next visit to some trees take no live wood."""
    return replace(rules, usual=np.where(trees, 0.0, rules.usual))


def _priors(
    inventory: Inventory,
    catalogue: Catalogue,
    standing: Standing,
    history: History,
    without_record: npt.NDArray[np.bool_],
    *,
    on: date,
    folder: Path | None,
) -> Findings:
    """State what trees without work on record are expected to need."""
    return prior_findings(
        catalogue,
        standing.age_class,
        standing.match.column("habit").astype(object),
        years_between(history.last_visit, np.datetime64(on, "ns")),
        standing.dbh_cm,
        inventory.trees["target"].to_numpy(dtype=object),
        without_record=without_record,
        folder=folder,
    )


def _prior_work(
    priors: Findings, catalogue: Catalogue, wounds: Wounds, standing: Standing
) -> Items:
    """List the work that trees without work on record are expected to need."""
    return work_items(
        unopposed(priors, catalogue, standing.age_class),
        catalogue,
        standing.age_class,
        standing.ages.relative_diameter,
        wounds,
    )


def _together(
    observed: Findings, recorded: Items, priors: Findings, prior_work: Items
) -> tuple[Findings, Items]:
    """Join observed and prior findings, and their work by tree."""
    moved = np.where(prior_work.finding >= 0, prior_work.finding + len(observed), -1)
    items = Items.join(recorded, replace(prior_work, finding=moved))
    return observed.followed_by(priors), items


def per_tree(tree: IntArray, values: FloatArray, trees: int) -> FloatArray:
    """Return the sum of values by tree.

    Parameters
    ----------
    tree : ndarray of int64
        Row of the tree of each value.
    values : ndarray of float64
    trees : int
        Number of trees.

    Returns
    -------
    ndarray of float64
        One entry per tree.
    """
    return np.bincount(tree, weights=values, minlength=trees).astype(np.float64)
