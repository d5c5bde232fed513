"""What tables a database has, as its own catalog says."""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.source import Table

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

GEOMETRY_TYPE = re.compile(r'(?:"?\w+"?\.)?(?:geometry|geography)(?:\((\w+)(?:,(\d+))?\))?')
SINGLE_NAMES = {"": "Unknown", "geometry": "Unknown"}
FULL_NAMES = {
    name.casefold(): name
    for single in ("Point", "LineString", "Polygon", "GeometryCollection")
    for name in (single, f"Multi{single}")
}
COLUMNS = """
SELECT n.nspname, c.relname, c.relkind::text, c.reltuples::bigint,
       pg_table_is_visible(c.oid), a.attname, format_type(a.atttypid, a.atttypmod),
       coalesce(a.attnum = ANY (k.indkey::int2[]), false),
       obj_description(c.oid, 'pg_class')
FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
LEFT JOIN pg_index k ON k.indrelid = c.oid AND k.indisprimary
WHERE c.relkind IN ('r', 'v', 'm', 'f', 'p')
  AND n.nspname <> 'information_schema' AND n.nspname NOT LIKE 'pg\\_%'
  AND has_schema_privilege(n.oid, 'USAGE')
  AND has_column_privilege(c.oid, a.attnum, 'SELECT')
  AND NOT EXISTS (SELECT FROM pg_depend d
                  WHERE d.classid = 'pg_class'::regclass AND d.objid = c.oid AND d.deptype = 'e')
ORDER BY NOT pg_table_is_visible(c.oid), n.nspname, c.relname, a.attnum
"""


@dataclass(frozen=True)
class Column:
    """A column: its name, its type in words, and whether it is part of the primary key."""

    name: str
    kind: str
    is_key: bool

    @property
    def is_geometry(self) -> bool:
        """Whether it holds PostGIS geometries or geographies."""
        return GEOMETRY_TYPE.fullmatch(self.kind) is not None

    @property
    def geometry_type(self) -> str:
        """As GDAL names it; ``Unknown`` where the table admits any."""
        found = GEOMETRY_TYPE.fullmatch(self.kind)
        said = ((found and found[1]) or "").casefold()
        bare = re.sub(r"(zm|z|m)$", "", said)
        return SINGLE_NAMES.get(bare) or FULL_NAMES.get(bare, bare.capitalize())


@dataclass(frozen=True)
class Listed:
    """A table or view that may be read.

    Attributes
    ----------
    schema, name : str
    kind : str
        As ``pg_class.relkind``: ``r`` table, ``v`` view and so on.
    rows : int
        An estimate; -1 where nobody has counted.
    visible : bool
        Whether the bare name finds it.
    comment : str
    columns : tuple of Column
    """

    schema: str
    name: str
    kind: str
    rows: int
    visible: bool
    comment: str
    columns: tuple[Column, ...]

    @property
    def shown(self) -> str:
        """The name to write in the settings."""
        return self.name if self.visible else f"{self.schema}.{self.name}"

    @property
    def geometry(self) -> Column | None:
        """The first geometry column."""
        return next((column for column in self.columns if column.is_geometry), None)


def list_tables(connection: "Connection") -> list[Listed]:
    """List the tables and views that this user may read.

    Parameters
    ----------
    connection : Connection

    Returns
    -------
    list of Listed
        Those that a bare name finds first; without those of extensions.
    """
    from sqlalchemy import text

    found: dict[tuple[str, str], Listed] = {}
    columns: dict[tuple[str, str], list[Column]] = {}
    for schema, name, kind, rows, visible, column, words, is_key, comment in connection.execute(
        text(COLUMNS)
    ):
        key = (schema, name)
        columns.setdefault(key, []).append(Column(column, words, is_key))
        found[key] = Listed(schema, name, kind, rows, visible, comment or "", ())
    return [
        Listed(**{**vars(listed), "columns": tuple(columns[key])}) for key, listed in found.items()
    ]


def find_table(connection: "Connection", table: Table) -> Listed:
    """Find the table that the settings mean.

    Parameters
    ----------
    connection : Connection
    table : Table
        Named ``table`` or ``schema.table``; without a name: the first with
        points, else the first. Names are compared with those of the
        catalog, never run as SQL.

    Returns
    -------
    Listed

    Raises
    ------
    InventoryError
        There is none of that name, or none at all, that this user may read.
    """
    listed = list_tables(connection)
    if table.layer is None:
        points = [one for one in listed if one.geometry and "Point" in one.geometry.geometry_type]
        if points or listed:
            return (points or listed)[0]
    for one in listed:
        if table.layer in (one.shown, f"{one.schema}.{one.name}"):
            return one
    there = ", ".join(one.shown for one in listed[:30]) or "none"
    raise InventoryError(
        Fault(
            f"no table {table.layer!r} that this user may read"
            if table.layer is not None
            else "no table that this user may read",
            str(table.database),
            f"tables there: {there}; one that is missing here needs GRANT SELECT",
        )
    )
