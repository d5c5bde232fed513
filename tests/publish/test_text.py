"""Hostile text is inert; harmless text stays as it is."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.text import inert_cell, inert_cells, original_cell, plain

# OWASP, "CSV Injection": a cell that begins with one of these may be run as a formula.
OWASP_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@pytest.mark.parametrize("start", OWASP_FORMULA_STARTS)
def test_no_cell_begins_like_a_formula(start):
    assert not inert_cell(f"{start}1+1").startswith(OWASP_FORMULA_STARTS)


@given(st.text())
def test_any_cell_is_inert_and_comes_back(text):
    cell = inert_cell(text)
    assert not cell.startswith(OWASP_FORMULA_STARTS)
    assert original_cell(cell) == plain(text)


@given(st.text())
def test_a_cell_stays_one_cell(text):
    line = io.StringIO()
    csv.writer(line).writerow([inert_cell(text), "next"])
    assert list(csv.reader(io.StringIO(line.getvalue(), newline=""))) == [
        [inert_cell(text), "next"]
    ]


@given(st.lists(st.text()))
def test_a_column_is_its_cells(texts):
    assert inert_cells(texts) == [inert_cell(text) for text in texts]


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("Acer \u202egnp.exe", "Acer gnp.exe"),
        ("two\r\nlines\x00", "two  lines"),
        ("e\u0301rable", "érable"),
        ("槭树 🌳 Łąkowa", "槭树 🌳 Łąkowa"),
        ("\ud800", "?"),
    ],
)
def test_plain_keeps_what_a_reader_sees(text, seen):
    assert plain(text) == seen
