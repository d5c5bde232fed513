"""Crew sheets as PDF: one per crew and day, and a book per crew and week."""

import io
from collections import defaultdict
from collections.abc import Set
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from forestcycle.inventory.atomic import flushed_together, write_bytes_atomically
from forestcycle.parallel import Executor, Processes, Task, Threads
from forestcycle.progress import Step
from forestcycle.publish.crew_day import CrewDay, day_figures, used_crew_days
from forestcycle.publish.crew_sheet import (
    MARGIN,
    DaySheet,
    SheetStyle,
    draw_day_sheet,
    draw_footer,
    lay_out_day,
)
from forestcycle.publish.names import safe_name
from forestcycle.publish.output import Edition, Output, Paper
from forestcycle.publish.pdf_text import draw, shortened
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.plan_version import plan_version
from forestcycle.publish.sketch_frame import frame_around
from forestcycle.publish.sketch_map import draw_overview
from forestcycle.publish.sketch_streets import index_streets
from forestcycle.publish.text import plain

FOLDER = "sheets"
DAYS_OF_A_PROCESS = 30
"""Drawing so many crew-days takes longer than starting a process for them."""


def sheet_path(crew: str, day: date) -> str:
    """Name the sheet of a crew's day.

    Parameters
    ----------
    crew : str
        As the plan has it.
    day : date

    Returns
    -------
    str
        Relative to the plan's folder.
    """
    return f"{FOLDER}/{safe_name(crew)}/{day.isoformat()}.pdf"


def book_path(crew: str, day: date) -> str:
    """Name the book of a crew's week.

    Parameters
    ----------
    crew : str
        As the plan has it.
    day : date
        Any day of the week.

    Returns
    -------
    str
        Relative to the plan's folder.
    """
    return f"{FOLDER}/{safe_name(crew)}/week-{day:%G-W%V}.pdf"


def sheet_style(plan: PlanFolder) -> SheetStyle:
    """Gather what all sheets of a plan have in common.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    SheetStyle
    """
    settings = settings_of(plan)
    return SheetStyle(
        city=plain(settings.city.name),
        version=plan_version(plan),
        paper=settings.publish.paper,
        units=settings.publish.units,
        streets=index_streets(plan.streets),
    )


def write_sheets(edition: Edition) -> list[Path]:
    """Write ``sheets/<crew>/<date>.pdf`` and ``sheets/<crew>/week-<year>-W<week>.pdf``.

    They are not flushed to the disk one by one: that is left to the caller.

    Parameters
    ----------
    edition : Edition
        Its workers draw the sheets, where there are many.

    Returns
    -------
    list of Path
    """
    weeks: dict[tuple[str, str], list[CrewDay]] = defaultdict(list)
    carried = edition.carried.days
    days = used_crew_days(edition.changed_weeks)
    for day in days:
        weeks[day.crew, f"{day.date:%G-W%V}"].append(day)
    count = sum(day.crew_day_id not in carried for day in days) + len(weeks)
    tasks = [Task(f"sheets of {crew}, {week}", part) for (crew, week), part in weeks.items()]
    written: list[Path] = []
    with _executor(len(days), edition.workers) as executor:
        shared = executor.share(_Shelf(sheet_style(edition.plan), edition.folder, carried))
        for done in executor.run(_write_week, tasks, shared):
            written += done.value
            edition.progress(Step("crew sheets", len(written), count))
    return sorted(written)


@dataclass(frozen=True)
class _Shelf:
    """What all sheets have in common, and where they go."""

    style: SheetStyle
    folder: Path
    carried: Set[str]


def _executor(days: int, workers: int) -> Executor:
    """Take processes where there is more to draw than they take to start."""
    worth_starting = min(workers, days // DAYS_OF_A_PROCESS)
    return Processes(worth_starting) if worth_starting > 1 else Threads(1)


def _write_week(shelf: _Shelf, days: list[CrewDay]) -> list[Path]:
    """Write the sheets of one crew's week that are not carried over, and their book."""
    style, week = shelf.style, f"{days[0].date:%G-W%V}"
    sheets = [lay_out_day(day, style) for day in days]
    papers = {
        shelf.folder / sheet_path(day.crew, day.date): sheet_pdf(sheet, style)
        for day, sheet in zip(days, sheets, strict=True)
        if day.crew_day_id not in shelf.carried
    }
    book = shelf.folder / book_path(days[0].crew, days[0].date)
    papers[book] = week_pdf(sheets, style, week)
    with flushed_together():
        for path, content in papers.items():
            write_bytes_atomically(path, content)
    return list(papers)


def sheet_pdf(sheet: DaySheet, style: SheetStyle) -> bytes:
    """Make the PDF of a crew-day.

    Parameters
    ----------
    sheet : DaySheet
    style : SheetStyle

    Returns
    -------
    bytes
        The same for the same plan: the file holds no time of making.
    """
    content = io.BytesIO()
    day = sheet.day
    canvas = _canvas(content, style, f"{day.crew_shown}, {day.date_shown}")
    draw_day_sheet(canvas, sheet, style)
    canvas.save()
    return content.getvalue()


def week_pdf(sheets: list[DaySheet], style: SheetStyle, week: str) -> bytes:
    """Make the chief's book of a week: an overview, then each day's sheet.

    Parameters
    ----------
    sheets : list of DaySheet
        Of one crew and one week.
    style : SheetStyle
    week : str
        ISO 8601 week, such as ``2027-W11``.

    Returns
    -------
    bytes
    """
    content = io.BytesIO()
    days = [sheet.day for sheet in sheets]
    canvas = _canvas(content, style, f"{days[0].crew_shown}, week {week}")
    _draw_overview(canvas, days, style, week)
    for sheet in sheets:
        draw_day_sheet(canvas, sheet, style)
    canvas.save()
    return content.getvalue()


def _canvas(content: io.BytesIO, style: SheetStyle, title: str) -> Canvas:
    rl_config.useA85 = 0  # bytes as they are: a quarter faster, and files a fifth smaller
    canvas = Canvas(content, pagesize=style.size, pageCompression=1, invariant=1, lang="en")
    canvas.setTitle(title)
    canvas.setAuthor(style.city)
    canvas.setSubject(f"plan {style.version}")
    canvas.setCreator("forestcycle")
    return canvas


def _draw_overview(canvas: Canvas, days: list[CrewDay], style: SheetStyle, week: str) -> None:
    y = style.size[1] - MARGIN - 20
    room = style.room
    draw(canvas, MARGIN, y, shortened(days[0].crew_shown, 20, room, bold=True), 20, bold=True)
    y -= 20
    draw(canvas, MARGIN, y, shortened(f"Week {week} · {style.city}", 11, room), 11)
    for day in days:
        y -= 34
        canvas.setLineWidth(0.5)
        canvas.line(MARGIN, y + 22, style.size[0] - MARGIN, y + 22)
        draw(canvas, MARGIN, y + 8, f"{day.date_shown}, from {day.leaves}", 10, bold=True)
        draw(canvas, MARGIN, y - 5, day_figures(day, style.units), 8)
        places = list(dict.fromkeys(row["address"] for row in day.rows))
        between = f"{places[0]} to {places[-1]}" if len(places) > 1 else places[0]
        y -= 16
        draw(canvas, MARGIN, y, shortened(between, 8, room), 8)
    bottom = MARGIN + 24
    points = np.vstack([day.points for day in days])
    frame = frame_around(points, (MARGIN, bottom, room, y - 16 - bottom))
    named = {f"{day.date:%a} {day.date.day}": day.points for day in days}
    draw_overview(canvas, frame, style.streets, named, units=style.units)
    draw_footer(canvas, style, "overview")
    canvas.showPage()


OUTPUT = Output(
    "crew sheets",
    FOLDER,
    write_sheets,
    papers=(
        Paper(sheet_path, carried=True, label="sheet", rank=10),
        Paper(book_path, carried=True, of_week=True),
    ),
)
