"""The books: visits, defects seen, refused returns and every change, in one GeoPackage.

They lie beside the inventory, whose own file is never written. A change is
written whole or not at all: see :func:`forestcycle.inventory.store.write_layers`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pyogrio

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.layout import refuse_later
from forestcycle.inventory.schema import (
    DATE,
    DEFECT_COLUMNS,
    FLOAT,
    TEXT,
    VISIT_COLUMNS,
    Columns,
    empty_table,
)
from forestcycle.inventory.store import write_layers

WHOLE = "int64"
TABLES: Mapping[str, Columns] = {
    "visits": {
        **VISIT_COLUMNS,
        "reason": TEXT,
        "work_left": TEXT,
        "defects_seen": TEXT,
        "who": TEXT,
        "planned_minutes": FLOAT,
        "planned_dose": FLOAT,
        "dose_limit": FLOAT,
        "change": WHOLE,
    },
    "defects": {**DEFECT_COLUMNS, "crew": TEXT, "change": WHOLE},
    "refused": {
        "change": WHOLE,
        "file": TEXT,
        "sha256": TEXT,
        "row": WHOLE,
        "tree_id": TEXT,
        "visited_on": DATE,
        "crew": TEXT,
        "fault": TEXT,
        "remedy": TEXT,
    },
    "changes": {
        "change": WHOLE,
        "at": TEXT,
        "command": TEXT,
        "input": TEXT,
        "sha256": TEXT,
        "visits": WHOLE,
        "refused": WHOLE,
        "undoes": WHOLE,
    },
}
RECORD, UNDO = "record", "undo"
VERSION_TABLE = "books"
NOTHING = 0
"""Changes are numbered from 1; a change that undoes none says 0."""


@dataclass(frozen=True)
class Books:
    """All tables of the books, in the columns of ``TABLES``.

    Attributes
    ----------
    visits, defects, refused : DataFrame
        In force; each row says which change brought it. ``defects`` are
        those that crews saw.
    changes : DataFrame
        Append-only: nothing is ever taken out, an undo is a change itself.
    """

    visits: pd.DataFrame
    defects: pd.DataFrame
    refused: pd.DataFrame
    changes: pd.DataFrame

    def recorded(
        self,
        visits: pd.DataFrame,
        refused: pd.DataFrame,
        *,
        source: Path,
        sha256: str,
        defects: pd.DataFrame | None = None,
    ) -> "Books":
        """Append one record of visits, refused returns and defects seen.

        Parameters
        ----------
        visits, refused : DataFrame
            With the columns of the tables of those names, but ``change``, ``file`` and ``sha256``.
        source : Path
            The file of returns.
        sha256 : str
            Of that file.
        defects : DataFrame, optional

        Returns
        -------
        Books
        """
        seen = empty_table(TABLES["defects"]) if defects is None else defects
        change = _change(self, RECORD, source.name, sha256, len(visits), len(refused), NOTHING)
        number = int(change["change"].iloc[0])
        refused = refused.assign(change=number, file=source.name, sha256=sha256)
        return Books(
            visits=_append("visits", self.visits, visits.assign(change=number)),
            defects=_append("defects", self.defects, seen.assign(change=number)),
            refused=_append("refused", self.refused, refused),
            changes=_append("changes", self.changes, change),
        )

    def last_record(self) -> pd.Series | None:
        """Return the last record that is not undone, None if there is none.

        Returns
        -------
        Series or None
            A row of ``changes``.
        """
        records = self.changes[self.changes["command"] == RECORD]
        standing = records[~records["change"].isin(self.changes["undoes"])]
        return standing.iloc[-1] if len(standing) else None

    def undone(self, change: int) -> "Books":
        """Take back the visits, defects and refusals of one record.

        Parameters
        ----------
        change : int
            Number of the record.

        Returns
        -------
        Books
            With the undo as a change of its own.
        """
        visits = self.visits[self.visits["change"] != change]
        defects = self.defects[self.defects["change"] != change]
        refused = self.refused[self.refused["change"] != change]
        gone = (len(self.visits) - len(visits), len(self.refused) - len(refused))
        undo = _change(self, UNDO, f"change {change}", "", -gone[0], -gone[1], change)
        changes = _append("changes", self.changes, undo)
        return replace(self, visits=visits, defects=defects, refused=refused, changes=changes)


def _change(
    books: Books, command: str, source: str, sha256: str, visits: int, refused: int, undoes: int
) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "change": [int(books.changes["change"].max()) + 1 if len(books.changes) else 1],
            "at": [datetime.now(UTC).isoformat(timespec="seconds")],
            "command": [command],
            "input": [source],
            "sha256": [sha256],
            "visits": [visits],
            "refused": [refused],
            "undoes": [undoes],
        }
    )


def _append(name: str, there: pd.DataFrame, more: pd.DataFrame) -> pd.DataFrame:
    more = more[list(TABLES[name])].astype(dict(TABLES[name]))
    return pd.concat([there, more], ignore_index=True) if len(there) else more


def read_books(path: Path) -> Books:
    """Read the books, brought forward to the present layout.

    Parameters
    ----------
    path : Path
        Need not exist: then they are empty.

    Returns
    -------
    Books

    Raises
    ------
    StoreError
        Not a GeoPackage, or written by a later version of forestcycle.
    """
    tables: dict[str, pd.DataFrame] = {}
    if path.exists():
        try:
            there = pyogrio.list_layers(path)[:, 0]
            names = [name for name in (*TABLES, VERSION_TABLE) if name in there]
            tables = {
                name: pd.DataFrame(pyogrio.read_dataframe(path, layer=name)) for name in names
            }
        except (pyogrio.errors.DataSourceError, RuntimeError) as error:
            what = f"cannot be read: {error}"
            raise StoreError(Fault(what, str(path), _put_back(path))) from error
    try:
        tables = _forward(path, tables) if path.exists() else tables
        typed = {name: _typed(tables.get(name), columns) for name, columns in TABLES.items()}
    except (KeyError, IndexError, ValueError, TypeError) as error:
        what = f"does not have the layout of books: {error}"
        raise StoreError(Fault(what, str(path), _put_back(path))) from None
    return Books(**typed)


def _put_back(path: Path) -> str:
    return f"put back {path.name}.bak, the books before the last change"


def write_books(path: Path, books: Books) -> None:
    """Write the books, whole or not at all; the older ones stay as ``NAME.bak``.

    Parameters
    ----------
    path : Path
    books : Books

    Raises
    ------
    StoreError
        As for ``write_layers``; the old books are then as they were.
    """
    version = pd.DataFrame({"schema_version": [len(MIGRATIONS)]})
    layers = {name: getattr(books, name) for name in TABLES} | {VERSION_TABLE: version}
    write_layers(path, layers, keep_other_layers=True, keep_backup=True)


def _typed(table: pd.DataFrame | None, columns: Columns) -> pd.DataFrame:
    table = pd.DataFrame(columns=list(columns)) if table is None else table[list(columns)].copy()
    for name, dtype in columns.items():
        if dtype == TEXT:
            table[name] = table[name].astype(object).fillna("")
    return table.astype(dict(columns))


def _from_plain_visits(tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Version 0, a table of visits without books, gets the missing columns."""
    visits = tables.get("visits", pd.DataFrame()).reindex(columns=list(TABLES["visits"]))
    return tables | {"visits": visits.assign(change=NOTHING)}


def _with_defects(tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Version 1 kept the defects that crews saw as text only; so they stay."""
    return tables | {"defects": empty_table(TABLES["defects"])}


MIGRATIONS: tuple[Callable[[dict[str, pd.DataFrame]], dict[str, pd.DataFrame]], ...] = (
    _from_plain_visits,
    _with_defects,
)
"""Entry v brings the tables from version v to v + 1."""


def _forward(path: Path, tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    version = 0
    if VERSION_TABLE in tables:
        version = int(tables[VERSION_TABLE]["schema_version"].iloc[0])
    refuse_later(version, len(MIGRATIONS), path)
    for migrate in MIGRATIONS[version:]:
        tables = migrate(tables)
    return tables
