"""Read layers from PostGIS, in blocks of rows, so that a million fit in memory."""

import hashlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyproj
import shapely
from pyproj.exceptions import CRSError

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.catalog import Column, Listed, find_table, list_tables
from forestcycle.inventory.database import Database, reading
from forestcycle.inventory.layer import Geometry, Layer, LayerInfo
from forestcycle.inventory.source import Table

if TYPE_CHECKING:
    from sqlalchemy import ColumnElement
    from sqlalchemy.engine import Connection
    from sqlalchemy.sql.expression import TableClause

BLOCK_ROWS = 20_000
WHOLE_NUMBERS = frozenset({"smallint", "integer", "bigint"})
NUMBERS = frozenset({"real", "double precision"})
BOOLEAN = "boolean"
PLAIN = WHOLE_NUMBERS | NUMBERS | {BOOLEAN}
"""Every other type is fetched as text, which is read like the text of a CSV file."""
MOMENT = "timestamp"
STORED = ("r", "m", "p")


def list_table_layers(database: Database) -> dict[str, str | None]:
    """List the tables of a database with their geometry types.

    Parameters
    ----------
    database : Database

    Returns
    -------
    dict of str to (str or None)
        None for a table without geometry.

    Raises
    ------
    InventoryError
        The database cannot be opened.
    """
    with reading(database) as connection:
        return {
            one.shown: one.geometry.geometry_type if one.geometry else None
            for one in list_tables(connection)
        }


def table_info(table: Table) -> LayerInfo:
    """Look at a table without reading its rows.

    Parameters
    ----------
    table : Table

    Returns
    -------
    LayerInfo

    Raises
    ------
    InventoryError
        The database cannot be opened, or has no such table.
    """
    with reading(table.database) as connection:
        found = find_table(connection, table)
    return LayerInfo(
        Table(table.database, found.shown),
        tuple(column.name for column in found.columns if not column.is_geometry),
        "",
        found.geometry.geometry_type if found.geometry else None,
        found.rows,
    )


def read_table(table: Table, *, fields: Sequence[str] | None = None) -> Layer:
    """Read a table: rows in the order of the primary key, else as they lie.

    Parameters
    ----------
    table : Table
    fields : sequence of str, optional
        Only these columns.

    Returns
    -------
    Layer
        Of several geometry columns the first.

    Raises
    ------
    InventoryError
        The database refuses, or the geometries have no one CRS.
    """
    with reading(table.database) as connection:
        found = find_table(connection, table)
        columns = [
            column
            for column in found.columns
            if not column.is_geometry and (fields is None or column.name in fields)
        ]
        blocks, shapes = _read_blocks(connection, found, columns)
        crs = _crs(connection, found, table) if found.geometry else None
    frame = (
        pd.concat(blocks, ignore_index=True) if blocks else _block([()] * len(columns), columns, 0)
    )
    for column in columns:
        frame[column.name] = _settled(frame[column.name], column)
    geometry: Geometry | None = None
    if found.geometry is not None:
        geometry = np.concatenate(shapes) if shapes else np.empty(0, dtype=object)
    return Layer(Table(table.database, found.shown), frame, geometry, crs)


def _read_blocks(
    connection: "Connection", found: Listed, columns: list[Column]
) -> tuple[list[pd.DataFrame], list[Geometry]]:
    """Fetch through a cursor on the server, never all rows at once as Python objects."""
    from sqlalchemy import select

    relation, selected = _selected(found, columns)
    query = select(*selected).select_from(relation).order_by(*_order(found, relation))
    result = connection.execution_options(yield_per=BLOCK_ROWS).execute(query)
    blocks, shapes = [], []
    for rows in result.partitions():
        cells = list(zip(*rows, strict=True))
        if found.geometry is not None:
            shapes.append(shapely.from_wkb(np.array(cells.pop(), dtype=object)))
        blocks.append(_block(cells, columns, len(rows)))
    return blocks, shapes


def _selected(
    found: Listed, columns: list[Column]
) -> tuple["TableClause", "list[ColumnElement[Any]]"]:
    """Choose what to fetch; SQLAlchemy quotes every name, so that none is read as SQL."""
    from sqlalchemy import Text, cast, column, func, literal, table
    from sqlalchemy.sql import quoted_name

    relation = table(
        quoted_name(found.name, quote=True),
        *(column(quoted_name(one.name, quote=True)) for one in found.columns),
        schema=quoted_name(found.schema, quote=True),
    )
    selected: list[ColumnElement[Any]] = [
        relation.c[one.name]
        if one.kind in PLAIN
        else cast(_as_day(relation.c[one.name], one), Text)
        for one in columns
    ]
    if found.geometry is not None:
        shape = _geometry(found.geometry, relation)
        selected.append(func.ST_AsBinary(func.ST_CurveToLine(func.ST_Force2D(shape))))
    return relation, selected or [literal(1)]


def _geometry(column: Column, relation: "TableClause") -> "ColumnElement[Any]":
    from sqlalchemy import func

    shape = relation.c[column.name]
    return func.geometry(shape) if "geography" in column.kind else shape


def _as_day(cell: "ColumnElement[Any]", column: Column) -> "ColumnElement[Any]":
    """Take the day of a moment, in the time zone of the server."""
    from sqlalchemy import func

    return func.date(cell) if column.kind.startswith(MOMENT) else cell


def _order(found: Listed, relation: "TableClause") -> "list[ColumnElement[Any]]":
    """Order rows so that the same table gives the same inventory each time.

    Without ORDER BY, two reads of a large table may start at different places
    (PostgreSQL's ``synchronize_seqscans``).
    """
    from sqlalchemy import Text, cast, literal_column

    keys = [relation.c[one.name] for one in found.columns if one.is_key]
    if keys:
        return list(keys)
    if found.kind in STORED:
        return [literal_column("tableoid"), literal_column("ctid")]
    return [cast(relation.c[one.name], Text) for one in found.columns if not one.is_geometry]


def _block(cells: Sequence[Sequence[object]], columns: list[Column], rows: int) -> pd.DataFrame:
    parts = {
        column.name: pd.Series(list(values), dtype=_dtype(column))
        for column, values in zip(columns, cells, strict=False)
    }
    return pd.DataFrame(parts, index=pd.RangeIndex(rows))


def _dtype(column: Column) -> str:
    if column.kind in WHOLE_NUMBERS:
        return "Int64"
    if column.kind in NUMBERS:
        return "float64"
    return "boolean" if column.kind == BOOLEAN else "str"


def _settled(values: pd.Series, column: Column) -> pd.Series:
    """Give a column the dtype that a file would give it."""
    if column.kind in WHOLE_NUMBERS:
        return values.astype("float64" if values.hasnans else "int64")
    if column.kind == BOOLEAN and not values.hasnans:
        return values.astype(bool)
    return values


def _crs(connection: "Connection", found: Listed, table: Table) -> pyproj.CRS | None:
    """Find the CRS that the geometries are in; None where they carry SRID 0."""
    from sqlalchemy import func, select, text

    assert found.geometry is not None  # noqa: S101 - for the type checker
    relation, _ = _selected(found, [])
    shape = _geometry(found.geometry, relation)
    srids = connection.scalars(select(func.ST_SRID(shape)).where(shape.is_not(None)).distinct())
    known = sorted(srids)
    if len(known) > 1:
        raise InventoryError(
            Fault(
                f"mixes the SRIDs {', '.join(map(str, known))}",
                str(table),
                "bring its geometries into one with ST_Transform",
            )
        )
    if not known or known[0] == 0:
        return None
    query = text("SELECT auth_name, auth_srid, srtext FROM spatial_ref_sys WHERE srid = :srid")
    row = connection.execute(query, {"srid": known[0]}).first()
    for said in (f"{row[0]}:{row[1]}", row[2]) if row else ():
        try:
            return pyproj.CRS.from_user_input(said)
        except (CRSError, TypeError):
            continue
    raise InventoryError(
        Fault(
            f"SRID {known[0]} is no CRS that can be used",
            str(table),
            "give the geometries the right SRID with ST_SetSRID, such as 4326 for WGS 84",
        )
    )


def sha256_of_layer(layer: Layer) -> str:
    """Compute the SHA-256 of the rows that were read, in their order.

    Parameters
    ----------
    layer : Layer

    Returns
    -------
    str
        Hexadecimal. Columns that were not read do not count.
    """
    digest = hashlib.sha256("\n".join(map(str, layer.table.columns)).encode())
    digest.update(pd.util.hash_pandas_object(layer.table, index=False).to_numpy().tobytes())
    if layer.geometry is not None:
        for start in range(0, len(layer.geometry), BLOCK_ROWS):
            shapes = shapely.to_wkb(layer.geometry[start : start + BLOCK_ROWS])
            digest.update(b"".join(shape or b"" for shape in shapes))
    return digest.hexdigest()
