"""The paper says what the list says."""

import dataclasses
import io
import re

import numpy as np
import pypdf
import pytest
from reportlab.lib.units import mm

from forestcycle.parallel import Processes
from forestcycle.publish.crew_day import clock, distance, used_crew_days, weight
from forestcycle.publish.crew_lists import write_crew_lists
from forestcycle.publish.crew_sheet import lay_out_day
from forestcycle.publish.output import Edition
from forestcycle.publish.sheets import sheet_pdf, sheet_style, week_pdf, write_sheets
from forestcycle.publish.text import original_cell
from tests.publish.test_crew_lists import read


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    return write_sheets(Edition(plan, tmp_path_factory.mktemp("sheets")))


def squeezed(text: str) -> str:
    """Without spaces: a line break on paper may fall anywhere."""
    return re.sub(r"\s", "", text)


def paper_of(day, style) -> str:
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(lay_out_day(day, style), style))).pages
    return squeezed("".join(page.extract_text() for page in pages))


def paper_text(path) -> str:
    return squeezed("".join(page.extract_text() for page in pypdf.PdfReader(path).pages))


def test_every_row_of_a_list_stands_on_its_sheet(plan, written, tmp_path):
    lists = write_crew_lists(Edition(plan, tmp_path))[1:]
    for csv_path in lists:
        pdf = next(
            p for p in written if p.stem == csv_path.stem and p.parent.name == csv_path.parent.name
        )
        text = paper_text(pdf)
        position = 0
        for row in read(csv_path):
            dose = squeezed(f"take {row['dose_percent']} % limit {row['dose_limit_percent']} %")
            stop = squeezed(f"{row['stop']}{row['arrive']}")
            found = text.find(stop, position)
            assert found >= 0, stop
            position = found
            for cell in ("tree_id", "address", "common_name", "work", "cautions", "note"):
                assert squeezed(original_cell(row[cell])) in text, row[cell]
            assert dose in text[position:]
            assert squeezed(f"{row['minutes']} min") in text[position:]
            if row["visits_left"] != "0":
                assert squeezed(f"{row['visits_left']} more visit") in text[position:]


def test_where_the_crew_looks_first_the_dose_is_only_expected(plan):
    stops = plan.stops.assign(defects_are_prior=[k % 2 == 0 for k in range(len(plan.stops))])
    looked = dataclasses.replace(plan, stops=stops)
    day = used_crew_days(looked)[0]
    text = paper_of(day, sheet_style(looked))
    for row in day.rows:
        verb = "expect" if row["look_first"] == "yes" else "take"
        assert squeezed(f"{verb} {row['dose_percent']} %") in text
    assert {row["look_first"] for row in used_crew_days(looked)[0].rows} == {"", "yes"}


def test_a_day_of_45_stops_fits_on_five_pages(plan):
    note = "About 15 %, limit 25 %. Keep the straightest and best placed stem as leader. "
    usual = {
        "address": "2405 Mulberry Lane",
        "tree_id": "Q0002461",
        "common_name": "Norway maple",
        "species": "Acer platanoides",
        "work": "Subordinate all but one of the codominant stems at the main fork",
        "cautions": "Traffic: signs and cones first.",
        "note": f"{note}Next visit: codominant stems (remove). Cuts to 4 cm. Three-part cut.",
    }
    day = used_crew_days(plan)[0]
    rows = [{**day.rows[0], **usual, "stop": str(k + 1)} for k in range(45)]
    long_day = dataclasses.replace(day, rows=rows, points=np.repeat(day.points[:1], 45, axis=0))
    style = sheet_style(plan)
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(lay_out_day(long_day, style), style))).pages
    assert len(pages) <= 5


def test_each_page_names_crew_day_plan_and_page(plan):
    style = sheet_style(plan)
    for day in used_crew_days(plan):
        pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(lay_out_day(day, style), style))).pages
        for number, page in enumerate(pages, start=1):
            text = squeezed(page.extract_text())
            for said in (
                day.crew_shown,
                day.date_shown,
                f"plan {style.version}",
                f"page {number} of {len(pages)}",
            ):
                assert squeezed(said) in text


def test_the_first_page_has_the_cautions_and_north(written):
    text = pypdf.PdfReader(written[0]).pages[0].extract_text()
    assert "Before the first cut" in text
    assert "conductors" in text
    assert "ceiling, not a target" in text
    assert re.search(r"\bN\b", text)


def test_a_week_book_holds_the_days_of_its_week(plan, written):
    books = [path for path in written if path.name.startswith("week-")]
    assert books
    days = used_crew_days(plan)
    for book in books:
        text = paper_text(book)
        inside = [
            day
            for day in days
            if f"week-{day.date:%G-W%V}" == book.stem and squeezed(day.crew_shown) in text
        ]
        assert inside
        assert all(squeezed(day.date_shown) in text for day in inside)


@pytest.mark.parametrize(("paper", "size"), [("A4", (210 * mm, 297 * mm)), ("Letter", (612, 792))])
def test_paper_sizes(plan, paper, size):
    # ISO 216 A4; US Letter is 8.5 by 11 inches.
    style = dataclasses.replace(sheet_style(plan), paper=paper)
    day = used_crew_days(plan)[0]
    for page in pypdf.PdfReader(io.BytesIO(sheet_pdf(lay_out_day(day, style), style))).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            size, abs=0.5
        )


def test_the_same_plan_gives_the_same_file(plan):
    style = sheet_style(plan)
    first, second = (
        week_pdf([lay_out_day(day, style) for day in used_crew_days(plan)[:2]], style, "2027-W11")
        for _ in range(2)
    )
    assert first == second


def test_a_long_day_goes_on_over_pages(plan):
    day = used_crew_days(plan)[0]
    rows = [{**row, "stop": str(k + 1)} for k, row in enumerate(day.rows * 5)]
    points = [point for _ in range(5) for point in day.points]
    long_day = dataclasses.replace(day, rows=rows, points=np.array(points))
    style = sheet_style(plan)
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(lay_out_day(long_day, style), style))).pages
    assert len(pages) >= 6
    assert "Signature" in pages[-1].extract_text()


def test_signatures_never_stand_on_a_page_alone(plan):
    day = used_crew_days(plan)[0]
    style = sheet_style(plan)
    rows = [row for _ in range(6) for row in day.rows]
    for length in range(1, len(rows)):
        pages = lay_out_day(dataclasses.replace(day, rows=rows[:length]), style).pages
        assert sum(map(len, pages)) == length
        assert pages[-1]


def test_clock_and_units():
    assert clock(450.4) == "07:30"
    assert clock(1439.6) == "23:59"
    # NIST Special Publication 811: 1 mi = 1.609344 km, 1 lb = 0.45359237 kg.
    assert distance(16_093.44, "us") == "10.0 mi"
    assert weight(45.359237, "us") == "100 lb"
    assert distance(1500, "metric") == "1.5 km"


def test_processes_draw_the_same_sheets(plan, written, tmp_path):
    with Processes(2) as processes:
        drawn = write_sheets(Edition(plan, tmp_path, executor=processes))
    assert [path.read_bytes() for path in drawn] == [path.read_bytes() for path in written]
