"""Cells that a spreadsheet would run, wherever text from outside is written as CSV."""

import re

import pandas as pd

FORMULA_START = re.compile(r"'*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
"""Cell beginnings that spreadsheets run, as the OWASP page "CSV Injection" lists them
(also in full width), and those already behind apostrophes, so that the mark can be undone."""

BYTE_ORDER_MARK = "\ufeff"
"""Tells a spreadsheet that a file is UTF-8, so that letters with accents stay what they are."""

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def inert_table(table: pd.DataFrame) -> pd.DataFrame:
    """Put an apostrophe before every text that a spreadsheet would run.

    Parameters
    ----------
    table : DataFrame
        Columns of numbers, truths and dates are left alone, and so is text
        that is a plain number.

    Returns
    -------
    DataFrame
        A copy, the column names made inert too.
    """
    inert = table.rename(columns=lambda name: _inert(str(name)))
    for name in inert.select_dtypes(exclude=["number", "bool", "datetime"]):
        inert[name] = inert[name].map(_inert, na_action="ignore")
    return inert


def spreadsheet_text(table: pd.DataFrame) -> str:
    """Write a table as CSV that spreadsheets read right and do not run.

    Parameters
    ----------
    table : DataFrame

    Returns
    -------
    str
        With a byte order mark, formulas made inert.
    """
    return BYTE_ORDER_MARK + inert_table(table).to_csv(index=False, lineterminator="\n")


def _inert(cell: object) -> object:
    if not isinstance(cell, str) or not FORMULA_START.match(cell) or NUMBER.fullmatch(cell):
        return cell
    return f"'{cell}"
