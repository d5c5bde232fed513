"""The rule is that of OWASP, "CSV Injection": no cell begins with = + - @, tab or return."""

import io

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.inventory.spreadsheet import inert_table, spreadsheet_text

STARTS = "=+-@\t\r\n"


def test_formulas_are_marked_and_numbers_are_not():
    table = pd.DataFrame({"=note": ["=1+1", "+49 30 1", "-4.5", "a=b", None], "x": [-1.0] * 5})
    inert = inert_table(table)
    assert inert.columns.tolist() == ["'=note", "x"]
    assert inert["'=note"].tolist()[:4] == ["'=1+1", "'+49 30 1", "-4.5", "a=b"]
    assert inert["'=note"].isna().tolist() == [False] * 4 + [True]
    assert (inert["x"] == -1.0).all()


def test_a_table_is_marked_as_utf_8_and_comes_back():
    """The byte order mark of UTF-8 is EF BB BF (Unicode Standard, 23.8)."""
    written = spreadsheet_text(pd.DataFrame({"crew": ["\u00c9quipe 1", "=1+1"]})).encode()
    assert written.startswith(b"\xef\xbb\xbf")
    back = pd.read_csv(io.BytesIO(written), encoding="utf-8-sig")
    assert back["crew"].tolist() == ["\u00c9quipe 1", "'=1+1"]


@given(st.lists(st.text(alphabet=STARTS + "a'1.e\uff1d"), min_size=1))
def test_no_cell_runs_and_none_is_lost(cells):
    for dtype in (object, "str", "category"):
        inert = inert_table(pd.DataFrame({"a": pd.Series(cells, dtype=dtype)}))["a"]
        for before, after in zip(cells, inert, strict=True):
            assert after in (before, f"'{before}")
            if after.startswith(tuple(STARTS)):
                float(after)
