"""Pack a table of trees into one text for a page: small, and quick to unpack.

A column becomes fixed-width integers; text that repeats becomes codes into a
vocabulary. All columns are deflated together and written in base64. The
reader is ``assets/packing.js``.
"""

import json
import struct
import zlib
from base64 import b64encode
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.publish.text import plain

EPOCH = np.datetime64("1970-01-01", "D")
MOST_REPEATS = 0.5
"""Text with fewer distinct values than this share of the rows is packed as codes."""


@dataclass(frozen=True)
class Column:
    """One packed column.

    Attributes
    ----------
    name : str
    header : dict
        What the reader needs: ``kind``, ``bytes`` and more by kind.
    data : bytes
    """

    name: str
    header: dict[str, Any]
    data: bytes


def pack(columns: list[Column]) -> str:
    """Join columns, deflate them (RFC 1950) and write base64 (RFC 4648).

    Parameters
    ----------
    columns : list of Column
        All of the same number of rows.

    Returns
    -------
    str
        Of the length of the JSON header, the header and the columns' bytes; in front of it all,
        outside the deflated part, the unpacked length, both as little-endian unsigned 32 bits.
    """
    header = json.dumps(
        [{"name": c.name, "length": len(c.data), **c.header} for c in columns], ensure_ascii=False
    ).encode()
    squeezer = zlib.compressobj(6)
    parts = [struct.pack("<I", len(header)), header, *(column.data for column in columns)]
    size = sum(len(part) for part in parts)
    deflated = b"".join([*(squeezer.compress(part) for part in parts), squeezer.flush()])
    return b64encode(struct.pack("<I", size) + deflated).decode()


def number_column(name: str, values: NDArray[np.float64], *, step: float) -> Column:
    """Pack numbers as multiples of a step.

    Parameters
    ----------
    name : str
    values : (n,) float64
        NaN stays NaN; others are at least 0.
    step : float
        What the numbers are rounded to; wider where they would not fit 32 bits.

    Returns
    -------
    Column
    """
    known = np.isfinite(values)
    whole = np.rint(np.where(known, np.maximum(values, 0.0), 0.0) / step)
    return _integers(name, np.where(known, whole + 1, 0).astype(np.int64), {"step": step})


def date_column(name: str, values: pd.Series) -> Column:
    """Pack dates as days since 1970.

    Parameters
    ----------
    name : str
    values : Series of datetime64
        NaT stays without a date.

    Returns
    -------
    Column
    """
    return days_column(name, values.to_numpy().astype("datetime64[D]") - EPOCH)


def days_column(name: str, days: NDArray[np.timedelta64]) -> Column:
    """Pack spans of whole days, of either sign.

    Parameters
    ----------
    name : str
    days : (n,) timedelta64
        NaT stays NaN.

    Returns
    -------
    Column
    """
    missing = np.isnat(days)
    whole = np.where(missing, 0, days.astype("timedelta64[D]").astype(np.int64))
    first = int(whole[~missing].min()) if not missing.all() else 0
    return _integers(name, np.where(missing, 0, whole - first + 1), {"step": 1, "first": first})


def path_column(name: str, values: NDArray[np.int64]) -> Column:
    """Pack coordinates as steps from row to row; small where neighbours follow one another.

    Parameters
    ----------
    name : str
    values : (n,) int64

    Returns
    -------
    Column
    """
    steps = np.diff(values, prepend=0)
    zigzag = np.where(steps < 0, -2 * steps - 1, 2 * steps)
    return _integers(name, zigzag, {"path": True})


def text_column(name: str, values: pd.Series) -> Column:
    """Pack text: as codes where it repeats, else line by line.

    Parameters
    ----------
    name : str
    values : Series of str

    Returns
    -------
    Column
    """
    codes, distinct = pd.factorize(values.astype(object).to_numpy())
    vocabulary = [plain(str(text)) for text in distinct]
    if len(vocabulary) < MOST_REPEATS * len(codes) or len(codes) == 0:
        return _integers(name, codes.astype(np.int64), {"vocabulary": vocabulary})
    lines = "\n".join([vocabulary[code] for code in codes])
    return Column(name, {"kind": "lines"}, lines.encode())


def category_column(name: str, values: pd.Series, vocabulary: list[str]) -> Column:
    """Pack text with a known, ordered vocabulary.

    Parameters
    ----------
    name : str
    values : Series of str
    vocabulary : list of str
        Other values are added behind it.

    Returns
    -------
    Column
    """
    texts = values.astype(object).to_numpy()
    others = sorted({str(text) for text in pd.unique(texts)} - set(vocabulary))
    words = [*vocabulary, *others]
    codes = pd.Index(words).get_indexer(pd.Index(texts.astype(str)))
    return _integers(name, codes.astype(np.int64), {"vocabulary": [plain(word) for word in words]})


def _integers(name: str, values: NDArray[np.int64], header: dict[str, Any]) -> Column:
    """Bytes of equal weight stand together, which deflates better than number by number."""
    most = int(values.max(initial=0))
    width = 1 if most < 2**8 else 2 if most < 2**16 else 4
    raw = values.astype(f"<u{width}").view(np.uint8).reshape(-1, width)
    return Column(name, {"kind": "integers", "bytes": width, **header}, raw.T.tobytes())
