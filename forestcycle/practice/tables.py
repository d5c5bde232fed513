"""Practice tables: CSV files that ship with the package, or a city's own.

A file of the same name in the folder named by ``practice.tables`` replaces
ours. Either way every column is checked, and all faults are reported at once.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from io import StringIO
from math import inf
from pathlib import Path
from typing import Any, Literal

import pandas as pd

from forestcycle.errors import Fault, SettingsError

Kind = Literal["text", "number", "whole", "flag", "month_day"]
MONTH_DAY = re.compile(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")
DAYS_IN_MONTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True)
class Column:
    """What a column of a practice table may hold.

    Attributes
    ----------
    kind : str
        ``text``, ``number``, ``whole``, ``flag`` (``yes`` or ``no``) or
        ``month_day`` (``MM-DD``).
    may_be_empty : bool
        Empty numbers become NaN, empty text ``""``.
    least, most : float
        Bounds of a number, inclusive.
    words : tuple of str
        The only words allowed, where not empty.
    once : bool
        Rows are looked up by this column: each of its words in the table that
        ships stands in one row, and no word in two.
    may_lack : bool
        A table may do without some of these rows.
    """

    kind: Kind = "text"
    may_be_empty: bool = False
    least: float = -inf
    most: float = inf
    words: tuple[str, ...] = ()
    once: bool = False
    may_lack: bool = False


SOURCE = Column()


def load_table(
    name: str, columns: Mapping[str, Column], *, folder: Path | None = None
) -> pd.DataFrame:
    """Load and check a practice table.

    Parameters
    ----------
    name : str
        File name without ``.csv``.
    columns : Mapping of str to Column
        The columns that the table must have, in any order; a ``source``
        column is always asked for. Further columns are dropped.
    folder : Path, optional
        Folder with the city's own tables. Where it holds ``name.csv``, that
        file stands in for the one that ships with the package.

    Returns
    -------
    DataFrame
        With the columns in the order asked for, then ``source``. ``number``
        is float64, ``whole`` int64, ``flag`` bool, the rest str.

    Raises
    ------
    SettingsError
        With one fault per missing column and per cell that does not fit.
    """
    text, where = _read_text(name, folder)
    wanted = {**columns, "source": SOURCE}
    try:
        cells = pd.read_csv(StringIO(text), dtype=str, keep_default_na=False)
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise SettingsError(Fault(f"not a CSV table: {error}", where)) from None
    missing = [column for column in wanted if column not in cells.columns]
    if missing:
        raise SettingsError(
            [Fault(f"column {column!r} is missing", where, "add it") for column in missing]
        )
    if cells.empty:
        raise SettingsError(Fault("the table has no row", where, "add rows or remove the file"))
    if not isinstance(cells.index, pd.RangeIndex):  # pandas takes what is too much for names
        raise SettingsError(Fault("rows are longer than the header", where, "correct the commas"))
    cells = cells[list(wanted)].apply(lambda column: column.str.strip())
    faults = [
        fault
        for title, column in wanted.items()
        for fault in _faults(cells[title], column, f"{where}, column {title!r}")
    ]
    faults += [
        fault
        for title, column in wanted.items()
        if column.once and folder is not None
        for fault in _not_once(
            cells[title], set() if column.may_lack else _shipped_words(name, title), where
        )
    ]
    if faults:
        raise SettingsError(faults)
    return pd.DataFrame({title: _typed(cells[title], wanted[title]) for title in wanted})


@lru_cache(maxsize=64)
def _shipped_text(name: str) -> str:
    return (files("forestcycle.practice") / "tables" / f"{name}.csv").read_text(encoding="utf-8")


def _shipped_words(name: str, title: str) -> set[str]:
    table = pd.read_csv(StringIO(_shipped_text(name)), dtype=str, keep_default_na=False)
    return set(table[title].str.strip())


def _not_once(cells: "pd.Series[str]", asked: set[str], where: str) -> Iterator[Fault]:
    for word in sorted(asked - set(cells)):
        yield Fault(f"no row for {word!r}", where, "add it")
    for word in cells[cells.duplicated()].unique():
        yield Fault(f"{word!r} stands in two rows", where, "leave one")


def _read_text(name: str, folder: Path | None) -> tuple[str, str]:
    if folder is None:
        return _shipped_text(name), f"{name}.csv"
    if not folder.is_dir():
        raise SettingsError(
            Fault("no such folder", str(folder), "correct practice.tables in cycle.toml")
        )
    path = folder / f"{name}.csv"
    if not path.exists():
        return _shipped_text(name), f"{name}.csv"
    try:
        return path.read_text(encoding="utf-8-sig"), str(path)
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(Fault(f"cannot be read: {error}", str(path))) from None


def _faults(cells: "pd.Series[str]", column: Column, where: str) -> Iterator[Fault]:
    empty = cells == ""
    if not column.may_be_empty:
        for row in cells.index[empty]:
            yield Fault("is empty", f"{where}, row {row + 1}", "fill it in")
    filled = cells[~empty]
    bad = ~filled.map(lambda cell: _fits(cell, column)).astype(bool)
    for row, cell in filled[bad].items():
        yield Fault(f"{cell!r} does not fit", f"{where}, row {int(str(row)) + 1}", _asked(column))


def _fits(cell: str, column: Column) -> bool:
    if column.words and cell not in column.words:
        return False
    if column.kind == "flag":
        return cell in ("yes", "no")
    if column.kind == "month_day":
        return _is_month_day(cell)
    if column.kind in ("number", "whole"):
        return _is_number(cell, column)
    return True


def _is_month_day(cell: str) -> bool:
    found = MONTH_DAY.fullmatch(cell)
    return bool(found) and int(cell[3:]) <= DAYS_IN_MONTH[int(cell[:2]) - 1]


def _is_number(cell: str, column: Column) -> bool:
    try:
        value = float(cell)
    except ValueError:
        return False
    whole = column.kind == "number" or value.is_integer()
    return whole and column.least <= value <= column.most and abs(value) != inf


def _asked(column: Column) -> str:
    if column.words:
        return f"one of {', '.join(column.words)}"
    if column.kind == "flag":
        return "yes or no"
    if column.kind == "month_day":
        return "a day of the year as MM-DD"
    if column.kind in ("number", "whole"):
        kind = "a whole number" if column.kind == "whole" else "a number"
        return f"{kind} from {column.least:g} to {column.most:g}"
    return "text"


def _typed(cells: "pd.Series[str]", column: Column) -> "pd.Series[Any]":
    if column.kind == "number":
        return pd.to_numeric(cells.mask(cells == "")).astype("float64")
    if column.kind == "whole":
        return pd.to_numeric(cells).astype("float64").astype("int64")
    if column.kind == "flag":
        return cells == "yes"
    return cells
