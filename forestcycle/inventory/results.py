"""Write tables of our own into PostGIS: all of them in one transaction, or none.

Tables are emptied and filled again rather than dropped, so that views on
them, rights and the symbols of a GIS stay. Until the commit every reader sees
the old rows: deleted rows and new ones are versions side by side (PostgreSQL
manual, chapter on concurrency control). A table that forestcycle did not make
is never written.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.database import Database, writing
from forestcycle.inventory.store import quoted
from forestcycle.progress import Progress, Step, silent

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

MARK = "Written by forestcycle, which replaces its rows."
LOCK_SECONDS = 10
BLOCK_ROWS = 20_000
EVERYWHERE = 4326
TABLE_KINDS = """
SELECT a.attname, format_type(a.atttypid, a.atttypmod)
FROM pg_attribute a
WHERE a.attrelid = to_regclass(:table) AND a.attnum > 0 AND NOT a.attisdropped
"""


def write_tables(
    database: Database,
    schema: str,
    tables: Mapping[str, Callable[[], pd.DataFrame]],
    *,
    progress: Progress = silent,
) -> dict[str, int]:
    """Replace the rows of our tables by others, all at once.

    Parameters
    ----------
    database : Database
    schema : str
        Where the tables stand; made if it is missing.
    tables : mapping of str to callable
        Name to what reads its content: called one after the other, so that
        one table is in memory at a time.
    progress : callable

    Returns
    -------
    dict of str to int
        Rows by table.

    Raises
    ------
    StoreError
        The database refuses, another sending is at work, or a table of that
        name was not made by forestcycle. Then nothing has changed.
    """
    from sqlalchemy import text

    rows = {}
    with writing(database) as connection:
        connection.execute(text(f"SET LOCAL lock_timeout = '{LOCK_SECONDS}s'"))
        connection.execute(
            text("SELECT pg_advisory_xact_lock(hashtextextended(:name, 0))"),
            {"name": f"forestcycle {schema}"},
        )
        _make_schema(connection, schema)
        for done, (name, read) in enumerate(tables.items()):
            progress(Step(f"sending {name}", done, len(tables)))
            content = _with_srid(read())
            target = _Target(connection, database, schema, name)
            target.prepare(_kinds(content))
            target.fill(content)
            rows[name] = len(content)
    return rows


def _make_schema(connection: "Connection", schema: str) -> None:
    from sqlalchemy import text

    there = text("SELECT FROM pg_namespace WHERE nspname = :schema")
    if connection.execute(there, {"schema": schema}).first() is None:
        _driver(connection).execute(f"CREATE SCHEMA {quoted(schema)}")


class _Target:
    """One table to fill, with every name quoted."""

    def __init__(
        self, connection: "Connection", database: Database, schema: str, name: str
    ) -> None:
        self._connection = connection
        self._table = f"{quoted(schema)}.{quoted(name)}"
        self._where = f"{database}, table {schema}.{name}"

    def prepare(self, kinds: Mapping[str, str]) -> None:
        """Make the table, or empty it and bring its columns up to date."""
        there = self._columns()
        if not there:
            columns = ", ".join(f"{quoted(name)} {kind}" for name, kind in kinds.items())
            self._run(f"CREATE TABLE {self._table} ({columns})")
            self._run(f"COMMENT ON TABLE {self._table} IS '{MARK}'")
            return
        self._refuse_foreign()
        self._run(f"DELETE FROM {self._table}")  # noqa: S608 - the name is quoted
        for name, kind in kinds.items():
            column = quoted(name)
            if name not in there:
                self._run(f"ALTER TABLE {self._table} ADD COLUMN {column} {kind}")
            elif there[name] != kind:
                self._run(f"ALTER TABLE {self._table} ALTER {column} TYPE {kind} USING NULL")

    def fill(self, content: pd.DataFrame) -> None:
        """Copy all rows in."""
        columns = ", ".join(quoted(str(name)) for name in content.columns)
        with (
            _driver(self._connection)
            .cursor()
            .copy(f"COPY {self._table} ({columns}) FROM STDIN") as copy
        ):
            for start in range(0, len(content), BLOCK_ROWS):
                block = content.iloc[start : start + BLOCK_ROWS]
                for row in zip(*(_cells(block[name]) for name in block.columns), strict=True):
                    copy.write_row(row)

    def _columns(self) -> dict[str, str]:
        from sqlalchemy import text

        found = self._connection.execute(text(TABLE_KINDS), {"table": self._table})
        return {row[0]: row[1] for row in found}

    def _refuse_foreign(self) -> None:
        from sqlalchemy import text

        query = text("SELECT obj_description(to_regclass(:table), 'pg_class')")
        if self._connection.scalar(query, {"table": self._table}) != MARK:
            raise StoreError(
                Fault(
                    "is there already and was not made by forestcycle",
                    self._where,
                    "name another schema in database.results_schema; nothing was changed",
                )
            )

    def _run(self, statement: str) -> None:
        _driver(self._connection).execute(statement)


def _driver(connection: "Connection") -> Any:  # noqa: ANN401 - psycopg is not imported before it is needed
    """Return psycopg's own connection: it has COPY, and reads no parameters into a name."""
    return connection.connection.driver_connection


def _with_srid(content: pd.DataFrame) -> pd.DataFrame:
    """Give geometries the SRID of their CRS; without a code of its own they become WGS 84."""
    if not isinstance(content, gpd.GeoDataFrame):
        return content
    layer: gpd.GeoDataFrame = content
    srid = layer.crs.to_epsg() if layer.crs is not None else 0
    if srid is None:
        layer, srid = layer.to_crs(EVERYWHERE), EVERYWHERE
    shapes = np.asarray(layer.geometry.array, dtype=object)
    return layer.set_geometry(shapely.set_srid(shapes, srid), crs=layer.crs)  # type: ignore[no-any-return]


def _kinds(content: pd.DataFrame) -> dict[str, str]:
    """Choose each column's type, in the words that PostgreSQL shows it with."""
    return {str(name): _kind(content[name]) for name in content.columns}


def _kind(column: pd.Series) -> str:
    if isinstance(column, gpd.GeoSeries):
        shapes = np.asarray(column.array, dtype=object)
        types = set(column.geom_type.dropna())
        name = types.pop() if len(types) == 1 else "Geometry"
        return f"geometry({name},{int(shapely.get_srid(shapes).max(initial=0))})"
    if pd.api.types.is_bool_dtype(column):
        return "boolean"
    if pd.api.types.is_integer_dtype(column):
        return "bigint"
    if pd.api.types.is_float_dtype(column):
        return "double precision"
    if pd.api.types.is_datetime64_any_dtype(column):
        whole = bool((column.dropna() == column.dropna().dt.normalize()).all())
        return "date" if whole else "timestamp without time zone"
    return "text"


def _cells(column: pd.Series) -> list[object]:
    """Turn a column into what COPY takes: None for what is missing."""
    if isinstance(column, gpd.GeoSeries):
        shapes = np.asarray(column.array, dtype=object)
        return list(shapely.to_wkb(shapes, hex=True, include_srid=True))
    if pd.api.types.is_datetime64_any_dtype(column):
        column = column.astype(object).where(column.notna(), None)
        return [None if moment is None else moment.isoformat() for moment in column]
    return column.astype(object).where(column.notna(), None).tolist()
