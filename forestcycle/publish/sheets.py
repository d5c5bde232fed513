"""Crew sheets as PDF: one per crew and day, and a book per crew and week."""

import io
from collections.abc import Set
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from forestcycle.publish.crew_day import CrewDay, day_figures
from forestcycle.publish.crew_sheet import (
    MARGIN,
    DaySheet,
    SheetStyle,
    draw_day_sheet,
    draw_footer,
    lay_out_day,
)
from forestcycle.publish.crew_weeks import CrewWeek, crew_weeks, write_weeks
from forestcycle.publish.names import PaperPath
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
sheet_path = PaperPath(FOLDER + "/{crew}/{day}.pdf")
book_path = PaperPath(FOLDER + "/{crew}/week-{day:%G-W%V}.pdf")


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

    Returns
    -------
    list of Path
    """
    weeks = crew_weeks(edition.days_to_draw(of_week=True))
    binder = _Binder(sheet_style(edition.plan), edition.carried.days)
    named = {f"{week.crew}, {week.label}": week for week in weeks}
    return write_weeks(edition, "crew sheets", _papers_of_week, binder, named)


@dataclass(frozen=True)
class _Binder:
    """What all sheets have in common, and the crew-days whose sheets are there already."""

    style: SheetStyle
    carried: Set[str]


def _papers_of_week(binder: _Binder, week: CrewWeek) -> dict[str, bytes]:
    """Draw the sheets of one crew's week that are not carried over, and their book."""
    style = binder.style
    sheets = [lay_out_day(day, style) for day in week.days]
    papers = {
        sheet_path(week.crew, sheet.day.date): sheet_pdf(sheet, style)
        for sheet in sheets
        if sheet.day.crew_day_id not in binder.carried
    }
    book = book_path(week.crew, week.days[0].date)
    return papers | {book: week_pdf(sheets, style, week.label)}


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
    by_workers=True,
    papers=(
        Paper(sheet_path, carried=True, label="sheet", rank=10),
        Paper(book_path, carried=True, of_week=True),
    ),
)
