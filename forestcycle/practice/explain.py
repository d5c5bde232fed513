"""Take one tree's figures apart: facts, rules, sources."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from forestcycle.inventory.schema import Inventory
from forestcycle.practice.assess import Judgement, judge
from forestcycle.practice.assessment import PARTS_OF_PRIORITY, Assessment
from forestcycle.practice.measures import Measures
from forestcycle.practice.state import STATES
from forestcycle.practice.waiting_table import waiting_table

GROWTH_SOURCE = "McPherson, van Doorn and Peper 2016, PSW-GTR-253 and RDS-2016-0005"
LABOUR_SOURCE = "labour.csv: Churack et al. 1994 (slopes); Ryder and Moore 2013; modelling choice"
RECALL_SOURCE = "recall.csv: modelling choice, no published source ties interval to dose"
RECALL_RULES = {
    "not_before": "the crown needs this long after the last dose",
    "due": "by age class, growth, and the work that remains",
    "overdue_after": "due and the grace of the age class",
}
URGENT_RULES = dict.fromkeys(RECALL_RULES, "a fault that does not wait: recall_faults.csv")
WAITING_SOURCE = "growth_equations.csv; defects.csv (worsens_per_year): modelling choice"
PRIORITY_SOURCE = "priority.csv and targets.csv: modelling choice; weights from settings"


@dataclass(frozen=True)
class Statement:
    """One thing said about a tree.

    Attributes
    ----------
    topic : str
        What it belongs to, such as ``Recall``.
    statement : str
        What is said.
    value : str
        With its unit.
    rule : str
        How it came about.
    source : str
        Of the rule, or of the fact.
    """

    topic: str
    statement: str
    value: str
    rule: str
    source: str


def explain(
    inventory: Inventory, assessment: Assessment, tree_id: str, *, units: str = "metric"
) -> list[Statement]:
    """Explain everything an assessment says of one tree.

    Parameters
    ----------
    inventory : Inventory
        The one that was assessed.
    assessment : Assessment
    tree_id : str
    units : {"metric", "us"}
        Of lengths and weights.

    Returns
    -------
    list of Statement
        Measured facts, age class, defects, prescription by visit with its
        running dose, recall, waiting, priority, season, minutes.

    Raises
    ------
    KeyError
        Where no usable tree has that id.
    """
    rows = np.flatnonzero((inventory.trees["tree_id"] == tree_id).to_numpy(dtype=bool))
    if not rows.size:
        raise KeyError(tree_id)
    row = int(rows[0])
    found = judge(
        _only(inventory, row, tree_id),
        assessment.practice,
        on=assessment.on,
        year_end=assessment.year_end,
        folder=assessment.folder,
    )
    facts, judged = inventory.trees.iloc[row], assessment.trees.iloc[row]
    work = assessment.work[assessment.work["tree"] == row]
    told = Measures(units)
    return [
        *_facts(facts, judged, told),
        *_age(found, judged, told),
        *_defects(found, told),
        *_left_aside(assessment, tree_id),
        *_prescription(found, judged, work, told),
        *_recall(found, judged),
        *_waiting(found, assessment, told),
        *_priority(found, judged),
        *_season(assessment, judged),
        *_minutes(found, judged, told),
    ]


def _only(inventory: Inventory, row: int, tree_id: str) -> Inventory:
    """Return the inventory of one tree."""

    def of_tree(table: pd.DataFrame) -> pd.DataFrame:
        return table[table["tree_id"] == tree_id].reset_index(drop=True)

    return replace(
        inventory,
        trees=inventory.trees.iloc[[row]].reset_index(drop=True),
        defects=of_tree(inventory.defects),
        visits=of_tree(inventory.visits),
        requests=of_tree(inventory.requests),
    )


def _facts(facts: pd.Series, judged: pd.Series, told: Measures) -> Iterator[Statement]:
    name = facts["common_name"] or "-"
    yield Statement("Facts", "species", f"{facts['species']} ({name})", "as recorded", "inventory")
    dbh = told.diameter(facts["dbh_cm"], decimals=1)
    yield Statement("Facts", "trunk diameter at breast height", dbh, "as recorded", "inventory")
    for field, title in (("height_m", "height"), ("crown_diameter_m", "crown diameter")):
        measured = pd.notna(facts[field])
        rule = "as recorded" if measured else f"from trunk diameter, by {judged['growth_table']}"
        source = "inventory" if measured else GROWTH_SOURCE
        yield Statement("Facts", title, told.length(judged[field]), rule, source)
    for field in ("condition", "conductors", "target"):
        yield Statement("Facts", field, str(facts[field]), "as recorded", "inventory")
    planted = facts["planted_on"]
    when = f"{planted:%Y-%m-%d}" if pd.notna(planted) else "not known"
    yield Statement("Facts", "planted on", when, "as recorded", "inventory")


def _age(found: Judgement, judged: pd.Series, told: Measures) -> Iterator[Statement]:
    mature = told.diameter(judged["mature_dbh_cm"])
    yield Statement("Age class", "mature diameter of its kind", mature, "by species", "species.csv")
    by_date = bool(found.standing.ages.by_date[0])
    rule = "planted too lately to be more" if by_date else "diameter over mature diameter"
    share = f"{judged['age_class']} ({judged['relative_diameter']:.2f} of mature)"
    yield Statement("Age class", "age class", share, rule, "age_classes.csv")
    pace = f"{told.diameter(judged['growth_cm_per_year'], decimals=2)} per year"
    curve = f"curve of {judged['growth_table']}"
    stand = found.standing
    if stand.growth.outside_limits(stand.curves.curve, stand.dbh_cm)[0]:
        curve += ", outside the diameters that it was fitted to"
    yield Statement("Age class", "diameter growth", pace, curve, GROWTH_SOURCE)


def _defects(found: Judgement, told: Measures) -> Iterator[Statement]:
    programme = found.programme
    findings, catalogue = programme.findings, programme.catalogue
    for entry in range(len(findings)):
        code = int(findings.defect[entry])
        line = catalogue.defects.iloc[code]
        prior = bool(findings.prior[entry])
        place = str(findings.position[entry])
        rule = (
            "prior: share of such trees times how bad it is where they have it"
            if prior
            else f"observed on {pd.Timestamp(findings.observed_on[entry]):%Y-%m-%d}; severity.csv"
        )
        value = f"severity {findings.severity[entry]:.2f}"
        if findings.branch_cm[entry] > 0:
            value += f", branch {told.diameter(findings.branch_cm[entry])}"
        title = f"{line['defect']}{f' ({place})' if place else ''}"
        source = "priors.csv" if prior else str(line["source"])
        yield Statement("Defects", title, value, rule, source)
    if not len(findings):
        yield Statement("Defects", "none", "", "nothing on record asks for work", "inventory")
    for _, line in programme.dropped.iterrows():
        yield Statement("Defects", line["defect"], "no work of its own", line["rule"], "conflicts")


def _left_aside(assessment: Assessment, tree_id: str) -> Iterator[Statement]:
    aside = assessment.set_aside
    for _, line in aside[aside["tree_id"] == tree_id].iterrows():
        yield Statement(
            "Set aside",
            f"{line['field']} = {line['value']}",
            line["fault"],
            line["remedy"],
            f"{line['layer']} row {line['row']}",
        )


def _prescription(
    found: Judgement, judged: pd.Series, work: pd.DataFrame, told: Measures
) -> Iterator[Statement]:
    limits, rules = found.programme.limits, found.programme.rules
    state = STATES[int(found.standing.state[0])]
    limit = f"{judged['dose_limit']:.0%} of live crown"
    rule = f"ceiling; age class {judged['age_class']}, state {state}"
    yield Statement("Prescription", "dose limit", limit, rule, limits.source(0))
    usual = f"{rules.usual[0]:.0%} of live crown"
    yield Statement("Prescription", "usual dose", usual, "a visit stops here", "usual_doses.csv")
    for visit, items in work.groupby("visit", sort=True):
        running = items["dose"].cumsum()
        for (_, item), so_far in zip(items.iterrows(), running, strict=True):
            largest = item["cut_diameter_cm"]
            cut = f", cut {told.diameter(largest)}" if largest >= 1 else ""
            yield Statement(
                f"Visit {visit}",
                item["text"],
                f"{item['dose']:.1%}, together {so_far:.1%}{cut}",
                "worst fault first, up to the usual dose",
                item["source"],
            )


def _recall(found: Judgement, judged: pd.Series) -> Iterator[Statement]:
    history = found.programme.history
    last = history.last_visit[0]
    if np.isnat(last):
        value, rule = "never", "no visit on record: due at once or by the training sequence"
    else:
        value = f"{pd.Timestamp(last):%Y-%m-%d}, dose {history.last_dose[0]:.0%}"
        rule = "counted from here"
    yield Statement("Recall", "last visit", value, rule, "visits")
    urgent = bool(np.isfinite(found.programme.urgent_grace_years[0]))
    rules = URGENT_RULES if urgent else RECALL_RULES
    for column, why in rules.items():
        day = f"{judged[column]:%Y-%m-%d}"
        yield Statement("Recall", column.replace("_", " "), day, why, RECALL_SOURCE)
    yield Statement(
        "Recall", "state", str(judged["recall_state"]), "on the day of the assessment", "recall.csv"
    )


def _waiting(found: Judgement, assessment: Assessment, told: Measures) -> Iterator[Statement]:
    table = waiting_table(
        found.standing,
        found.programme,
        found.labour,
        assessment.practice,
        folder=assessment.folder,
    )
    for line in table.to_dict("records"):
        closes = "closes" if line["closes"] else "larger than what closes well"
        correctable = "can be corrected" if line["correctable"] else "past correcting"
        yield Statement(
            "Waiting",
            f"in {line['years']:.0f} years",
            f"trunk {told.diameter(line['dbh_cm'])}, "
            f"branch {told.diameter(line['branch_cm'], decimals=1)}, dose "
            f"{line['dose_needed']:.0%}, {line['visits_needed']} visits, {line['minutes']:.0f} min",
            f"{closes}; {correctable}",
            WAITING_SOURCE,
        )


def _priority(found: Judgement, judged: pd.Series) -> Iterator[Statement]:
    c, points = found.urgency.circumstances, found.urgency.points
    why = {
        "priority_waiting": (
            f"{c.share_lost[0]:.0%} lost in {points.waiting_years:.0f} years and "
            f"{c.minutes_saved[0]:.0f} min saved, times ripeness {c.ripeness[0]:.2f}"
        ),
        "priority_overdue": f"{c.spans_overdue[0]:.2f} spans past due at the period's end",
        "priority_target": (
            f"target {c.target_weight[0]:.1f} times severity {c.worst_severity[0]:.2f}, "
            f"times ripeness {c.ripeness[0]:.2f}"
        ),
        "priority_request": "open request" if c.requested[0] else "no open request",
    }
    for column in PARTS_OF_PRIORITY:
        part = column.removeprefix("priority_")
        yield Statement("Priority", part, f"{judged[column]:.1f}", why[column], PRIORITY_SOURCE)
    total = f"{judged['priority']:.1f}"
    yield Statement("Priority", "together", total, "sum of the parts", PRIORITY_SOURCE)


def _season(assessment: Assessment, judged: pd.Series) -> Iterator[Statement]:
    closures = assessment.season_closed[int(judged["season"])]
    for first, last, rule in closures:
        days = f"{first:%Y-%m-%d} to {last:%Y-%m-%d}"
        yield Statement("Season", "closed", days, f"{rule}, both days included", "seasons.csv")
    if not closures:
        yield Statement("Season", "open all through the period", "", "no rule applies", "settings")


def _minutes(found: Judgement, judged: pd.Series, told: Measures) -> Iterator[Statement]:
    minutes = f"{judged['minutes']:.0f} crew minutes"
    yield Statement("Minutes", "next visit", minutes, "by trunk, dose and items", LABOUR_SOURCE)
    total = f"{found.effort.all_minutes[0]:.0f} crew minutes"
    yield Statement("Minutes", "all visits", total, "by trunk, dose and items", LABOUR_SOURCE)
    brush = told.weight(judged["brush_kg"])
    yield Statement("Minutes", "brush", brush, "by minutes of pruning", LABOUR_SOURCE)
    yield Statement(
        "Minutes", "skill", str(judged["skill"]), "by work height and conductors", "labour.csv"
    )
