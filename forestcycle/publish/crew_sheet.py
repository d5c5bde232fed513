"""The pages of a crew's day on paper: map, stops, boxes to fill in, cautions.

Laid out first and drawn after, so that each page knows how many there are.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import groupby

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from forestcycle.publish.crew_day import CrewDay, day_figures
from forestcycle.publish.crew_rows import diameter_column, dose_in_words, terms_in_words
from forestcycle.publish.pdf_text import draw, draw_lines, shortened, width, wrap
from forestcycle.publish.sketch_frame import frame_of_day
from forestcycle.publish.sketch_map import Sketch, draw_map, lay_out_map
from forestcycle.publish.sketch_streets import Streets

PAPERS: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
MARGIN = 34.0
BODY = 7.4
LEADING = 8.6
PADDING = 3.0
HEADER_HEIGHT = 46.0
FOOTER_HEIGHT = 18.0
MAP_HEIGHT = 240.0
TABLE_HEAD_HEIGHT = 24.0
LEAST_ROW_HEIGHT = 34.0
CLOSING_HEIGHT = 44.0
LEAD_GAP = 4.0
LEAST_SHARE_BESIDE = 0.25

CAUTIONS_FILE = "before_the_first_cut.txt"
"""Usual cautions, one a line (common practice)."""
CAUTION_SIZE = 6.6
CAUTION_LEADING = 8.2


@dataclass(frozen=True)
class SheetStyle:
    """What all sheets of a plan have in common.

    Attributes
    ----------
    city, version : str
        Plain text.
    paper : {"A4", "Letter"}
    units : {"metric", "us"}
    streets : Streets
    """

    city: str
    version: str
    paper: str
    units: str
    streets: Streets

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper in points."""
        return PAPERS[self.paper]

    @property
    def room(self) -> float:
        """Width between the margins in points."""
        return self.size[0] - 2 * MARGIN


@dataclass(frozen=True)
class _Line:
    """A line of text, with words before it in bold where there are any."""

    text: str
    size: float = BODY
    bold: bool = False
    lead: str = ""


@dataclass(frozen=True)
class _Row:
    """A stop: its cells, each a list of lines, and lines below them that need the whole width."""

    cells: tuple[tuple[_Line, ...], ...]
    below: tuple[_Line, ...]

    @property
    def cells_height(self) -> float:
        tallest = max(sum(_leading(line) for line in cell) for cell in self.cells)
        return max(tallest + 2 * PADDING, LEAST_ROW_HEIGHT)

    @property
    def height(self) -> float:
        below = sum(_leading(line) for line in self.below)
        return self.cells_height + (below + PADDING if below else 0.0)


def _leading(line: _Line) -> float:
    return line.size * LEADING / BODY


@dataclass(frozen=True)
class DaySheet:
    """A crew-day laid out on pages, to be drawn by itself and in the book of its week.

    Attributes
    ----------
    day : CrewDay
    map : Sketch
        On the first page.
    pages : list of list
        The stops on each page.
    """

    day: CrewDay
    map: Sketch
    pages: list[list[_Row]]


def lay_out_day(day: CrewDay, style: SheetStyle) -> DaySheet:
    """Lay out all pages of one crew-day.

    Parameters
    ----------
    day : CrewDay
    style : SheetStyle

    Returns
    -------
    DaySheet
    """
    columns = _columns(style)
    rows = [_lay_out(row, columns, style) for row in day.rows]
    top = style.size[1] - MARGIN - HEADER_HEIGHT
    box = (MARGIN, top - 16 - MAP_HEIGHT, style.room, MAP_HEIGHT)
    frame = frame_of_day(day.points, day.way, box)
    sketch = lay_out_map(frame, style.streets, day.points, day.way)
    return DaySheet(day, sketch, _paginate(rows, style))


def draw_day_sheet(canvas: Canvas, sheet: DaySheet, style: SheetStyle) -> None:
    """Draw all pages of one crew-day.

    Parameters
    ----------
    canvas : Canvas
        At the start of a page; left at the start of another.
    sheet : DaySheet
    style : SheetStyle
        That it was laid out in.
    """
    columns, pages = _columns(style), sheet.pages
    for number, page in enumerate(pages, start=1):
        top = _draw_header(canvas, sheet.day, style)
        if number == 1:
            top = _draw_first_part(canvas, sheet, style, top)
        if page:
            top = _draw_table(canvas, page, columns, top)
        if number == len(pages):
            _draw_closing(canvas, style, top)
        draw_footer(canvas, style, f"page {number} of {len(pages)}")
        canvas.showPage()


def _columns(style: SheetStyle) -> tuple[tuple[str, float], ...]:
    fixed = (
        ("Stop|arrive", 40.0),
        ("Tree and place", 128.0),
        ("What to do", 0.0),
        ("Plan", 76.0),
        ("Minutes|taken", 42.0),
        ("Dose|taken %", 42.0),
        ("Done|initials", 42.0),
    )
    left = style.room - sum(width for _, width in fixed)
    return tuple((title, width or left) for title, width in fixed)


def _lay_out(
    row: dict[str, str], columns: tuple[tuple[str, float], ...], style: SheetStyle
) -> _Row:
    room = [width - 2 * PADDING for _, width in columns]
    diameter = row[diameter_column(style.units)]
    unit = "in" if style.units == "us" else "cm"
    trunk = f"trunk {diameter} {unit}" if diameter else "trunk not measured"
    tree = [
        *_lines(row["address"], room[1], bold=True),
        *_lines(f"Tree {row['tree_id']} · {trunk}", room[1]),
        *_lines(" · ".join(filter(None, (row["common_name"], row["species"]))), room[1]),
    ]
    work = _lines(row["work"], room[2])
    width_below = style.room - columns[0][1] - 2 * PADDING
    below = _lines(terms_in_words(row), width_below, bold=True)
    below += _cautions_and_note(row["cautions"], row["note"], width_below)
    plan = [
        _Line(dose_in_words(row), 8.6, bold=True),
        _Line(f"limit {row['dose_limit_percent']} % · {row['minutes']} min"),
        *_lines_of_next_visit(row, room[3]),
    ]
    stop = (
        _Line(row["stop"], 13.0, bold=True),
        _Line(row["arrive"]),
        _Line(f"way {row['travel_minutes']} min", 6.0),
    )
    return _Row((stop, tuple(tree), tuple(work), tuple(plan), (), (), ()), tuple(below))


def _lines_of_next_visit(row: dict[str, str], room: float) -> list[_Line]:
    left = int(row["visits_left"])
    when = row["next_visit"][:7]
    words = [f"{left} more visit{'s' if left > 1 else ''}"] if left else []
    words += [f"next {when}" if not left else when] if when else []
    text = ", ".join(words)
    return [_Line(line, 6.0) for line in wrap(text, 6.0, room)]


def _cautions_and_note(cautions: str, note: str, room: float) -> list[_Line]:
    """Lay the note out behind the bold cautions, on their last line if much room is left there."""
    *before, lead = _lines(cautions, room, bold=True) or [_Line("")]
    left = room - width(lead.text, BODY, bold=True) - LEAD_GAP
    if not lead.text:
        return _lines(note, room)
    if not note or left < LEAST_SHARE_BESIDE * room:
        return [*before, lead, *_lines(note, room)]
    note = " ".join(note.split())
    beside = wrap(note, BODY, left)[0]
    rest = note.removeprefix(beside).lstrip()
    return [*before, _Line(beside, lead=lead.text), *_lines(rest, room)]


def _lines(text: str, room: float, *, bold: bool = False) -> list[_Line]:
    return [_Line(line, bold=bold) for line in wrap(text, BODY, room, bold=bold)]


def _paginate(rows: Sequence[_Row], style: SheetStyle) -> list[list[_Row]]:
    """Fill pages with rows; the closing block stands under the last row, on no page alone."""
    height = style.size[1] - 2 * MARGIN - HEADER_HEIGHT - FOOTER_HEIGHT
    room = height - _first_part_height(style) - TABLE_HEAD_HEIGHT
    pages: list[list[_Row]] = [[]]
    for row in rows:
        if row.height > room:
            pages.append([])
            room = height - TABLE_HEAD_HEIGHT
        pages[-1].append(row)
        room -= row.height
    if room < CLOSING_HEIGHT:
        pages.append([pages[-1].pop()] if len(pages[-1]) > 1 else [])
    return pages


@cache
def _caution_lines(room: float) -> tuple[str, ...]:
    text = (files("forestcycle.publish") / CAUTIONS_FILE).read_text(encoding="utf-8")
    lines: list[str] = []
    for caution in text.splitlines():
        first, *rest = wrap(caution, CAUTION_SIZE, room - 18)
        lines += [f"• {first}", *(f"   {line}" for line in rest)]
    return tuple(lines)


def _cautions_height(style: SheetStyle) -> float:
    return 14 + CAUTION_LEADING * len(_caution_lines(style.room))


def _first_part_height(style: SheetStyle) -> float:
    return 16 + MAP_HEIGHT + 8 + _cautions_height(style) + 8


def _draw_header(canvas: Canvas, day: CrewDay, style: SheetStyle) -> float:
    right = style.size[0] - MARGIN
    y = style.size[1] - MARGIN - 15
    draw(canvas, right, y, day.date_shown, 12, bold=True, align="right")
    room = style.room - width(day.date_shown, 12, bold=True) - 12
    draw(canvas, MARGIN, y, shortened(day.crew_shown, 16, room, bold=True), 16, bold=True)
    times = f"leave {day.depot} {day.leaves}, back about {day.returns}"
    draw(canvas, right, y - 15, shortened(times, 8, style.room * 0.62), 8, align="right")
    draw(canvas, MARGIN, y - 15, shortened(style.city, 8, style.room * 0.36), 8)
    canvas.setLineWidth(1.2)
    canvas.line(MARGIN, y - 21, right, y - 21)
    return style.size[1] - MARGIN - HEADER_HEIGHT


def draw_footer(canvas: Canvas, style: SheetStyle, page: str) -> None:
    """Print the foot of a page: what the words mean, the plan's mark, the page's number.

    Parameters
    ----------
    canvas : Canvas
    style : SheetStyle
    page : str
        Such as ``page 1 of 3``.
    """
    canvas.setLineWidth(0.4)
    canvas.line(MARGIN, MARGIN + 12, style.size[0] - MARGIN, MARGIN + 12)
    meaning = "take, dose: share of live crown to remove · limit: most that this visit may remove"
    draw(canvas, MARGIN, MARGIN + 3, meaning, 6.4)
    mark = f"plan {style.version} · {page}"
    draw(canvas, style.size[0] - MARGIN, MARGIN + 3, mark, 7, bold=True, align="right")


def _draw_first_part(canvas: Canvas, sheet: DaySheet, style: SheetStyle, top: float) -> float:
    draw(canvas, MARGIN, top - 7, day_figures(sheet.day, style.units), 8.4, bold=True)
    draw_map(canvas, sheet.map, units=style.units)
    y = sheet.map.frame.bottom - 8
    height = _cautions_height(style)
    canvas.setLineWidth(1.0)
    canvas.rect(MARGIN, y - height, style.room, height)
    draw(canvas, MARGIN + 6, y - 9.5, "Before the first cut", 7.6, bold=True)
    for k, line in enumerate(_caution_lines(style.room)):
        draw(canvas, MARGIN + 6, y - 18.5 - CAUTION_LEADING * k, line, CAUTION_SIZE)
    return y - height - 8


def _draw_table(
    canvas: Canvas, rows: Sequence[_Row], columns: tuple[tuple[str, float], ...], top: float
) -> float:
    right = MARGIN + sum(width for _, width in columns)
    bottom = top - TABLE_HEAD_HEIGHT
    canvas.setFillGray(0.88)
    canvas.rect(MARGIN, bottom, right - MARGIN, TABLE_HEAD_HEIGHT, stroke=0, fill=1)
    canvas.setFillGray(0)
    x = MARGIN
    for title, column in columns:
        for k, line in enumerate(title.split("|")):
            draw(canvas, x + PADDING, top - 9 - 9 * k, line, 7, bold=True)
        x += column
    y = bottom
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, top, right, top)
    canvas.line(MARGIN, bottom, right, bottom)
    for row in rows:
        _draw_row(canvas, row, columns, y)
        y -= row.height
        canvas.line(MARGIN, y, right, y)
    for x in (MARGIN, MARGIN + columns[0][1], right):
        canvas.line(x, top, x, y)
    return y


def _draw_row(
    canvas: Canvas, row: _Row, columns: tuple[tuple[str, float], ...], top: float
) -> None:
    x = MARGIN
    bottom = top - row.cells_height
    foot = bottom + PADDING if row.below else bottom  # clear of the text below
    for k, (cell, (_, column)) in enumerate(zip(row.cells, columns, strict=True)):
        if k > 1:
            canvas.line(x, top, x, foot)
        _draw_lines(canvas, cell, x + PADDING, top - PADDING)
        x += column
    last = columns[-1][1]
    canvas.rect(x - last + PADDING, top - PADDING - 10, 10, 10)
    if row.below:
        _draw_lines(canvas, row.below, MARGIN + columns[0][1] + PADDING, bottom)


def _draw_lines(canvas: Canvas, lines: Sequence[_Line], x: float, top: float) -> None:
    for (size, bold, lead), alike in groupby(lines, lambda line: (line.size, line.bold, line.lead)):
        texts = [line.text for line in alike]
        leading = size * LEADING / BODY
        y, indent = top - leading + 2.2, 0.0
        if lead:
            draw(canvas, x, y, lead, size, bold=True)
            indent = width(lead, size, bold=True) + LEAD_GAP
        draw_lines(canvas, x + indent, y, texts, size, leading, bold=bold)
        top -= leading * len(texts)


def _draw_closing(canvas: Canvas, style: SheetStyle, top: float) -> None:
    y = top - 17
    third = style.room / 3
    for k, label in enumerate(("Left depot", "Back at depot", "Crew minutes in all")):
        _blank(canvas, label, MARGIN + k * third, y, third - 10)
    y -= 22
    for k, label in enumerate(("Crew chief", "Signature", "Date")):
        _blank(canvas, label, MARGIN + k * third, y, third - 10)


def _blank(canvas: Canvas, label: str, x: float, y: float, room: float) -> None:
    draw(canvas, x, y, label, 8)
    canvas.setLineWidth(0.5)
    canvas.line(x + width(label, 8) + 4, y - 1.5, x + room, y - 1.5)
