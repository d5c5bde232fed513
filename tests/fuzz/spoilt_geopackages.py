"""Damage to GeoPackages: pages, header, tables, rows and geometries."""

import contextlib
import sqlite3
import struct
from collections.abc import Callable
from pathlib import Path
from random import Random

from tests.fuzz.bad_words import NUMBERS, bad_cell, bad_name

PAGE = 4096
FEATURES = ("trees", "streets", "wards", "depots", "parks", "stops", "crew_days")
BLOBS = (
    b"", b"GP", b"GP\x00\x01" + bytes(4), b"\xff" * 60,
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BI", 1, 1),
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BIdd", 1, 1, float("nan"), float("inf")),
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BIdd", 1, 1, 1e300, -1e300),
    b"GP\x00\x11\x00\x00\x00\x00" + struct.pack("<BIdd", 1, 1, 0, 0),
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BII", 1, 2, 0xFFFFFFFF),
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BII", 1, 3, 0x7FFFFFFF),
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BII", 1, 7, 1) * 301,
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BIIdd", 1, 2, 1, 5e5, 5e6),
    b"GP\x00\x01\x00\x00\x00\x00" + struct.pack("<BIIIdddd", 1, 3, 1, 2, 0, 0, 1, 1),
)  # fmt: skip


TRIGGER = "CREATE TRIGGER harm AFTER INSERT ON {} BEGIN DELETE FROM gpkg_contents; END"


def spoil_geopackage(path: Path, random: Random) -> None:
    """Spoil a GeoPackage in one to three ways, in place."""
    for _ in range(random.choice([1, 1, 2, 3])):
        random.choice(WAYS)(path, random)


def _pages(path: Path, random: Random) -> None:
    """Overwrite whole pages, or exchange them."""
    data = bytearray(path.read_bytes())
    for _ in range(random.choice([1, 3, 10])):
        one, two = (random.randrange(max(len(data) // PAGE, 1)) * PAGE for _ in range(2))
        noise = random.choice([bytes(PAGE), random.randbytes(PAGE), bytes(data[two : two + PAGE])])
        data[one : one + PAGE] = noise
    path.write_bytes(data)


def _header(path: Path, random: Random) -> None:
    """Declare other sizes, versions and formats in the first hundred bytes."""
    data = bytearray(path.read_bytes())
    for at, size in random.sample(
        [(16, 2), (18, 2), (20, 1), (28, 4), (36, 4), (44, 4), (56, 4)], 2
    ):
        data[at : at + size] = random.choice([b"\xff", b"\x00", b"\x7f"]) * size
    path.write_bytes(data)


def _bytes_in_page(path: Path, random: Random) -> None:
    """Change the head of a page: its kind, its cells, its pointers."""
    data = bytearray(path.read_bytes())
    page = random.randrange(max(len(data) // PAGE, 1)) * PAGE
    for _ in range(random.choice([1, 4])):
        at = min(page + random.randrange(100), len(data) - 1)
        data[at] = random.randrange(256)
    path.write_bytes(data)


def _by_sql(path: Path, statements: list[tuple[str, tuple[object, ...]]]) -> None:
    """Run statements as a careless program would; what fails is passed over."""
    with contextlib.suppress(sqlite3.Error), contextlib.closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA writable_schema=ON")
        for statement, values in statements:
            with contextlib.suppress(sqlite3.Error, OverflowError, UnicodeError):
                database.execute(statement, values)
        database.commit()


def _tables(path: Path) -> list[str]:
    with (
        contextlib.suppress(sqlite3.Error, UnicodeError),
        contextlib.closing(sqlite3.connect(path)) as database,
    ):
        rows = database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        return [str(name) for (name,) in rows] or ["trees"]
    return ["trees"]


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""').replace("\x00", "") + '"'


def _columns(path: Path, table: str) -> list[str]:
    with (
        contextlib.suppress(sqlite3.Error, UnicodeError),
        contextlib.closing(sqlite3.connect(path)) as database,
    ):
        return [row[1] for row in database.execute(f"PRAGMA table_info({_quoted(table)})")] or [""]
    return [""]


def _table_lost(path: Path, random: Random) -> None:
    """Drop a table, or only its entry among the contents."""
    table = random.choice(_tables(path))
    drop = f"DROP TABLE {_quoted(table)}"
    forget = "DELETE FROM gpkg_contents WHERE table_name = ?"
    geometry = "DELETE FROM gpkg_geometry_columns WHERE table_name = ?"
    _by_sql(path, [random.choice([(drop, ()), (forget, (table,)), (geometry, (table,))])])


def _layer_renamed(path: Path, random: Random) -> None:
    """Name a layer like a statement or a path."""
    table, name = random.choice(FEATURES), bad_name(random).replace("\x00", "")
    _by_sql(
        path,
        [
            (f"ALTER TABLE {_quoted(table)} RENAME TO {_quoted(name)}", ()),
            ("UPDATE gpkg_contents SET table_name = ? WHERE table_name = ?", (name, table)),
            ("UPDATE gpkg_geometry_columns SET table_name = ? WHERE table_name = ?", (name, table)),
        ],
    )


def _column_changed(path: Path, random: Random) -> None:
    """Rename or drop a column."""
    table = random.choice(_tables(path))
    column = random.choice(_columns(path, table))
    name = bad_name(random)
    rename = f"ALTER TABLE {_quoted(table)} RENAME COLUMN {_quoted(column)} TO {_quoted(name)}"
    drop = f"ALTER TABLE {_quoted(table)} DROP COLUMN {_quoted(column)}"
    _by_sql(path, [(random.choice([rename, drop]), ())])


def _cells(path: Path, random: Random) -> None:
    """Put values of any type into a column, for some rows or all."""
    table = random.choice(_tables(path))
    column = random.choice(_columns(path, table))
    value: object = random.choice(
        [bad_cell(random), None, 1e308, -1, 2**63 - 1, float("inf"), b"\x00\xff", "nan", 0]
    )
    share = random.choice(["", " WHERE rowid % 7 = 3", " WHERE rowid < 3"])
    _by_sql(path, [(f"UPDATE {_quoted(table)} SET {_quoted(column)} = ?{share}", (value,))])  # noqa: S608


def _geometries(path: Path, random: Random) -> None:
    """Put broken geometry blobs into a layer."""
    share = random.choice(["", " WHERE rowid % 9 = 4", " WHERE rowid = 2"])
    column = random.choice(["geom", "geometry"])
    statement = f"UPDATE {_quoted(random.choice(FEATURES))} SET {column} = ?{share}"  # noqa: S608
    _by_sql(path, [(statement, (random.choice(BLOBS),))])


def _reference_system(path: Path, random: Random) -> None:
    """Lie about the reference system or the kind of geometry."""
    number = random.choice([0, -1, 4326, 999999, 2**31])
    definition = random.choice(["", "undefined", 'GEOGCS["x"', "EPSG:4326", "x" * 5000])
    kind = random.choice(["POINT", "POLYGON", "CURVE", "nonsense", ""])
    _by_sql(
        path,
        [
            random.choice(
                [
                    ("UPDATE gpkg_geometry_columns SET srs_id = ?", (number,)),
                    ("UPDATE gpkg_spatial_ref_sys SET definition = ?", (definition,)),
                    ("UPDATE gpkg_geometry_columns SET geometry_type_name = ?", (kind,)),
                    ("UPDATE gpkg_contents SET srs_id = ?", (number,)),
                    ("UPDATE gpkg_contents SET min_x = ?", (random.choice(NUMBERS),)),
                ]
            )
        ],
    )


def _views(path: Path, random: Random) -> None:
    """Put a view that never ends, a trigger that deletes, or a table of wonders in the way."""
    endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n"
    table = random.choice(["visits", "trees", "refused", "changes"])
    _by_sql(
        path,
        [
            random.choice(
                [
                    (f"CREATE VIEW many AS {endless}", ()),
                    (TRIGGER.format(table), ()),
                    ("PRAGMA application_id = 0", ()),
                    ("PRAGMA user_version = 999999", ()),
                    ("PRAGMA journal_mode = WAL", ()),
                    ("UPDATE sqlite_master SET sql = 'CREATE TABLE x(' WHERE rowid = 5", ()),
                ]
            ),
            ("INSERT INTO gpkg_contents (table_name, data_type) VALUES ('many', 'attributes')", ()),
        ],
    )


WAYS: tuple[Callable[[Path, Random], None], ...] = (
    _pages, _header, _bytes_in_page, _table_lost, _layer_renamed, _column_changed, _cells,
    _cells, _cells, _geometries, _geometries, _reference_system, _views,
)  # fmt: skip
