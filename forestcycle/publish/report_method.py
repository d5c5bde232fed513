"""How the report's figures came about: the method, and what was in force for this plan."""

from importlib.resources import files

import pandas as pd

from forestcycle.practice.branch_failures import expected_branch_failures
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.report_figures import Figures
from forestcycle.publish.text import plain

METHOD_FILE = "report_method.txt"


def method(plan: PlanFolder, figures: Figures) -> list[tuple[str, str]]:
    """Explain the method.

    Parameters
    ----------
    plan : PlanFolder
    figures : Figures

    Returns
    -------
    list of (str, str)
        Headings and texts; the last ones say what was in force and what came out for this plan.
    """
    text = (files("forestcycle.publish") / METHOD_FILE).read_text(encoding="utf-8")
    paragraphs = [line.split(". ", 1) for line in text.splitlines()]
    return [
        *((heading, body) for heading, body in paragraphs),
        ("Branch failures", _branch_failures(int(figures.value("trees")))),
        *_sensitivity(figures.sensitivity),
        ("Sources", _sources(plan)),
        ("This plan", _proof(plan)),
    ]


def _branch_failures(trees: int) -> str:
    expected = expected_branch_failures(trees)
    counts = " or ".join(f"{count:,.0f} by {counted}" for counted, count in expected.items())
    return (
        f"At the rate of one city whose records were published (Rochester NY, Luley, Sisinni and "
        f"Pleninger 2002), {trees:,} trees have this many branch failures a year: {counts}. "
        "There, pruned units had fewer service requests but failed no less often over eight years: "
        "this plan promises no reduction."
    )


def _sensitivity(sensitivity: pd.DataFrame) -> list[tuple[str, str]]:
    """Say how much hangs on each weight, where the plan says so."""
    rows = zip(sensitivity["weight"], sensitivity["share_changed"], strict=True)
    shares = ", ".join(f"{weight} {100 * share:.1f} %" for weight, share in rows)
    if not shares:
        return []
    body = (
        "The weights of the four parts of a tree's priority are judgements. If one of them were a "
        "fifth larger or smaller, a choice by worth per minute alone would spend this share of "
        f"the hours at trees on other trees: {shares}. Small shares mean that the choice does "
        "not hang on the exact weight."
    )
    return [("Weights", body)]


def _sources(plan: PlanFolder) -> str:
    practice = settings_of(plan).practice
    seasons = ", ".join(practice.seasons) or "none"
    return (
        f"Dose limits in force: {plain(practice.dose_limits)}. Growth: "
        f"{plain(practice.growth_region or 'mean over all regions')}. Closed seasons: "
        f"{plain(seasons)}. Each table names the publication that each of its rows comes from, "
        "and 'forestcycle explain' prints rule and source of every number of a tree."
    )


def _proof(plan: PlanFolder) -> str:
    summary = plan.summary
    word = "no plan can be worth more than" if summary.get("certified", True) else "estimated limit"
    checked = "found no fault" if summary["verified"] else "FOUND FAULTS; see summary.json"
    unused = summary["trees_in_inventory"] - summary["trees_usable"]
    return (
        f"Worth of the plan {summary['worth']:,.0f}; {word} {summary['bound']:,.0f}, a gap of "
        f"{100 * summary['gap']:.1f} %. An independent check of hours, dates, doses and budget "
        f"{checked}. {unused:,} rows of the inventory could not be used and are listed with "
        "their reasons in plan.gpkg."
    )
