"""The first page of a plan's folder: its figures, and links to all that lies beside it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pandas as pd

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.crew_day import CrewDay
from forestcycle.publish.crew_weeks import CrewWeek, crew_weeks
from forestcycle.publish.day_map import week_page
from forestcycle.publish.icalendar import calendar_path
from forestcycle.publish.output import Edition, Link, Output, Paper
from forestcycle.publish.page import Page, render
from forestcycle.publish.plan_folder import SUMMARY_FILE, PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.sheets import book_path
from forestcycle.publish.text import plain

INDEX_PAGE = "index.html"
FIGURES = Link(SUMMARY_FILE, "Figures", "The plan's figures for programs.", rank=80)
"""Written with the plan itself, so always there."""
REVISION = Link(
    "revision.csv", "What the revision changed", "Every visit, old and new, and why.", rank=45
)
"""Written with a revised plan."""


def write_index(edition: Edition, outputs: Sequence[Output]) -> Path:
    """Write ``index.html``.

    Parameters
    ----------
    edition : Edition
        In its folder the outputs lie already: what is not there is not linked.
    outputs : sequence of Output
        Whose links and papers are linked.

    Returns
    -------
    Path
    """
    plan, folder = edition.plan, edition.folder
    settings = settings_of(plan)
    city = plain(settings.city.name)
    page = Page(f"{city}: pruning plan", styles=["site.css", "index.css"], scripts=[])
    page.add_html(
        render(
            "index.html",
            city=city,
            first=plan.crew_days["date"].min(),
            last=plan.crew_days["date"].max(),
            summary=plan.summary,
            figures=_figures(plan, settings.city.currency),
            revised=_revised_from(plan),
            documents=_documents(plan, folder, outputs),
            crews=_crews(edition.crew_days, folder, outputs),
            reasons=sorted(
                plan.summary.get("unplanned_reasons", {}).items(), key=lambda item: -item[1]
            ),
        )
    )
    path = folder / INDEX_PAGE
    write_text_atomically(path, page.render())
    return path


def link(path: str) -> str:
    """Write a relative address.

    Parameters
    ----------
    path : str
        Relative to the page, with forward slashes.

    Returns
    -------
    str
        Percent-encoded (RFC 3986).
    """
    return quote(path, safe="/")


def _figures(plan: PlanFolder, currency: str) -> list[tuple[str, str, str]]:
    """Value, what it counts, and a remark."""
    summary = plan.summary
    budget = summary.get("budget_cents")
    cost = summary["cost_cents"] / 100
    hours = (summary["minutes_service"] + summary["minutes_travel"]) / 60
    return [
        (
            f"{summary['trees_planned']:,}",
            "trees to visit",
            f"of {summary['trees_eligible']:,} that could be visited now",
        ),
        (
            f"{summary['crew_days_used']:,}",
            "crew-days of work",
            f"of {summary['crew_days_available']:,} available",
        ),
        (
            f"{cost:,.0f} {currency}",
            "cost",
            f"of a budget of {budget / 100:,.0f}" if budget else "no budget was set",
        ),
        (
            f"{100 * summary['minutes_travel'] / max(hours * 60, 1):.0f} %",
            "of crew time on the way",
            f"{hours:,.0f} crew hours in all",
        ),
        (
            f"{100 * summary['gap']:.1f} %",
            "at most below the best plan",
            "proven for these crews, seasons and budget"
            if summary.get("certified", True)
            else "estimated: not every condition of a proof holds",
        ),
    ]


def _revised_from(plan: PlanFolder) -> pd.Timestamp | None:
    day = plan.run.get("revised_from")
    return None if day is None else pd.Timestamp(day)


def _documents(plan: PlanFolder, folder: Path, outputs: Sequence[Output]) -> list[dict[str, str]]:
    written = [
        document
        for output in outputs
        for document in output.links
        if (folder / document.path).exists()
    ]
    with_the_plan = [FIGURES] if _revised_from(plan) is None else [FIGURES, REVISION]
    return [
        {"link": link(document.path), "title": document.title, "text": document.text}
        for document in sorted([*written, *with_the_plan], key=lambda document: document.rank)
    ]


def _crews(
    crew_days: list[CrewDay], folder: Path, outputs: Sequence[Output]
) -> list[dict[str, Any]]:
    labelled = [paper for output in outputs for paper in output.papers if paper.label]
    papers = sorted(labelled, key=lambda paper: paper.rank)
    crews: dict[str, dict[str, Any]] = {}
    for week in crew_weeks(crew_days):
        calendar = calendar_path(week.crew)
        crew = crews.setdefault(
            week.crew,
            {
                "name": week.days[0].crew_shown,
                "calendar": link(calendar) if (folder / calendar).exists() else "",
                "days": 0,
                "stops": 0,
                "weeks": [],
            },
        )
        crew["weeks"].append(_week(week, folder, papers))
        crew["days"] += len(week.days)
        crew["stops"] += sum(len(day.rows) for day in week.days)
    return list(crews.values())


def _week(week: CrewWeek, folder: Path, papers: Sequence[Paper]) -> dict[str, Any]:
    book = book_path(week.crew, week.days[0].date)
    page = link(week_page(week.crew, week.days[0].date))
    days = []
    for day in week.days:
        date = day.date.isoformat()
        files = [(paper.label, paper.path(week.crew, day.date)) for paper in papers]
        days.append(
            {
                "name": f"{day.date:%a} {day.date.day} {day.date:%b}",
                "stops": len(day.rows),
                "map": f"{page}#{date}",
                "files": [(kind, link(path)) for kind, path in files if (folder / path).exists()],
            }
        )
    return {
        "number": week.week,
        "year": week.year,
        "book": link(book) if (folder / book).exists() else "",
        "days": days,
    }
