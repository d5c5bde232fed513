"""The first page of a plan's folder: its figures, and links to all that lies beside it."""

from pathlib import Path
from typing import Any
from urllib.parse import quote

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.publish.crew_day import used_crew_days
from forestcycle.publish.day_map import CrewWeek, crew_weeks, week_page
from forestcycle.publish.names import safe_name
from forestcycle.publish.outlook_folder import KEPT, PAGE_FILE
from forestcycle.publish.page import Page, render
from forestcycle.publish.plan_folder import PLAN_FILE, SUMMARY_FILE, PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import plain

INDEX_PAGE = "index.html"
DOCUMENTS = (
    (
        "maps/city.html",
        "City map",
        "Every tree, what is planned for it and why. Search and filter.",
    ),
    ("report/report.html", "Council report", "Coverage, cost and what waiting costs, by ward."),
    ("report/report.pdf", "Council report on paper", "The same as PDF."),
    (
        f"{KEPT}/{PAGE_FILE}",
        "The years ahead",
        "What each budget buys and what waiting costs, with all its charts.",
    ),
    ("crew_lists/all.csv", "All stops", "One table of the whole year for a spreadsheet."),
    (
        "notices/notices.csv",
        "Notices",
        "Who to tell about parking and work, block by block, and when.",
    ),
    (PLAN_FILE, "Map layers", "GeoPackage for a desktop GIS; opens with its styles."),
    (SUMMARY_FILE, "Figures", "The plan's figures for programs."),
)


def write_index(plan: PlanFolder, folder: Path) -> Path:
    """Write ``index.html``.

    Parameters
    ----------
    plan : PlanFolder
    folder : Path
        Where the other outputs lie already: what is not there is not linked.

    Returns
    -------
    Path
    """
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
            documents=_documents(folder),
            crews=_crews(plan, folder),
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
            "proven for these crews, seasons and budget",
        ),
    ]


def _documents(folder: Path) -> list[dict[str, str]]:
    return [
        {"link": link(path), "title": title, "text": text}
        for path, title, text in DOCUMENTS
        if (folder / path).exists() or path in (PLAN_FILE, SUMMARY_FILE)
    ]


def _crews(plan: PlanFolder, folder: Path) -> list[dict[str, Any]]:
    crews: dict[str, dict[str, Any]] = {}
    for week in crew_weeks(used_crew_days(plan)):
        calendar = f"sheets/{safe_name(week.crew)}/calendar.ics"
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
        crew["weeks"].append(_week(week, folder))
        crew["days"] += len(week.days)
        crew["stops"] += sum(len(day.rows) for day in week.days)
    return list(crews.values())


def _week(week: CrewWeek, folder: Path) -> dict[str, Any]:
    sheets = f"sheets/{safe_name(week.crew)}"
    book = f"{sheets}/week-{week.year}-W{week.week:02d}.pdf"
    page = link(week_page(week.crew, week.days[0].date))
    days = []
    for day in week.days:
        date = day.date.isoformat()
        files = [
            ("sheet", f"{sheets}/{date}.pdf"),
            ("list", f"crew_lists/{safe_name(week.crew)}/{date}.csv"),
            ("route", f"{sheets}/{date}.gpx"),
        ]
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
