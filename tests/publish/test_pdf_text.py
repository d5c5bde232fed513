"""Every script prints from an embedded font, and lines keep to their room."""

import io
from hashlib import sha256

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from forestcycle.publish.pdf_text import (
    FONTS,
    MISSING,
    draw,
    printable,
    runs,
    shortened,
    width,
    wrap,
)


def extracted(text: str) -> str:
    content = io.BytesIO()
    canvas = Canvas(content, invariant=1)
    draw(canvas, 20, 700, text, 9)
    canvas.save()
    content.seek(0)
    return pypdf.PdfReader(content).pages[0].extract_text().strip()


@pytest.mark.parametrize(
    "text",
    [
        "Érable à sucre, Łąkowa, Straße, Øster Søgade, Čapek",
        "Платан, Πλάτανος",
        "槭树 公园 桜通り さくら 가로수",
        "🌳 🍁 ⚠",
        "<b>& \"quoted\" 'text'</b>",
    ],
)
def test_text_prints_and_can_be_searched(text):
    assert extracted(text) == text


def test_every_font_is_embedded():
    content = io.BytesIO()
    canvas = Canvas(content)
    draw(canvas, 20, 700, "A 槭 🌳", 9)
    canvas.save()
    content.seek(0)
    used = pypdf.PdfReader(content).pages[0]["/Resources"]["/Font"]
    embedded = [
        font
        for font in (entry.get_object() for entry in used.values())
        if "/FontDescriptor" in font
    ]
    assert len(embedded) == 3
    assert all("/FontFile2" in font["/FontDescriptor"] for font in embedded)


def test_a_character_without_a_font_is_marked():
    assert printable("a\U0001f9ff\ue000b").count(MISSING) >= 1
    assert printable("a\ufe0fb") == "ab"


@given(st.text(max_size=60), st.floats(20, 300))
@settings(max_examples=60, deadline=None)
def test_lines_keep_to_their_room_and_lose_no_word(text, room):
    lines = wrap(text, 8, room)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(width(line, 8) <= room for line in lines if len(line) > 1)


@given(st.text(max_size=60), st.floats(20, 300))
@settings(max_examples=60, deadline=None)
def test_a_shortened_line_fits(text, room):
    assert width(shortened(text, 8, room), 8) <= room


@given(st.text(max_size=60), st.booleans())
@settings(max_examples=60, deadline=None)
def test_bold_and_regular_print_the_same_characters(text, bold):
    shown = "".join(part for _, part in runs(text, bold=bold))
    assert len(shown) <= len(text)


def test_fonts_are_those_of_the_checksum_file():
    for line in (FONTS / "SHA256SUMS.txt").read_text().splitlines():
        digest, name = line.split()
        assert sha256((FONTS / name).read_bytes()).hexdigest() == digest
