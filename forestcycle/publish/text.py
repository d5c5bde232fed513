"""Text from outside, made harmless for the place it is printed in.

Species, streets and notes come from files that anyone may have written. A
cell that a spreadsheet would run as a formula, markup, and characters that
reorder or hide what follows them must all be inert in every output.
"""

import unicodedata
from collections.abc import Iterable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.inventory.spreadsheet import FORMULA_START

DIRECTION_MARKS = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Unicode's explicit directional formatting characters (Unicode Standard Annex #9, 2)."""

_SEEN = {chr(code): " " for code in (0x09, 0x0A, 0x0B, 0x0C, 0x0D, 0x85, 0x2028, 0x2029)}
_HIDDEN = {
    chr(code): ""
    for code in (
        *range(0x20),
        *range(0x7F, 0xA0),
        0xFEFF,
        0xFFFE,
        0xFFFF,
        *map(ord, DIRECTION_MARKS),
    )
}
_PLAIN = str.maketrans(_HIDDEN | _SEEN)


def plain(text: str) -> str:
    """Keep what a reader sees: no control characters, no direction marks, one line.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        In Unicode normal form C, so that an accent is one character with its letter.
    """
    text = text.encode("utf-8", "replace").decode("utf-8")
    return unicodedata.normalize("NFC", text.translate(_PLAIN)).strip()


def plain_column(values: pd.Series) -> NDArray[np.object_]:
    """Apply `plain` to a column, once to each distinct value.

    Parameters
    ----------
    values : Series
        Each value is turned into text first; a missing one becomes the empty text.

    Returns
    -------
    (n,) array of str
    """
    codes, distinct = pd.factorize(values.astype(object))
    cleaned = np.array([plain(str(text)) for text in distinct] + [""], dtype=object)
    return cleaned[codes]


def inert_cell(text: str) -> str:
    """Make a text a spreadsheet cell that is never run as a formula.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        ``plain`` text, behind an apostrophe if it would start a formula.
    """
    text = plain(text)
    return f"'{text}" if FORMULA_START.match(text) else text


def original_cell(cell: str) -> str:
    """Undo the apostrophe of `inert_cell`, when a list comes back from the field.

    Parameters
    ----------
    cell : str
        A cell that `inert_cell` wrote; a spreadsheet may have dropped the apostrophe.

    Returns
    -------
    str
    """
    return cell[1:] if cell.startswith("'") and FORMULA_START.match(cell) else cell


def inert_cells(texts: Iterable[object]) -> list[str]:
    """Apply `inert_cell` to a column.

    Parameters
    ----------
    texts : iterable
        Values; each is turned into text first.

    Returns
    -------
    list of str
    """
    known: dict[str, str] = {}
    cells = []
    for value in texts:
        text = str(value)
        if text not in known:
            known[text] = inert_cell(text)
        cells.append(known[text])
    return cells
