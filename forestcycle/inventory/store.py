"""Write GeoPackages so that no failure can cost the city a layer.

Overwriting a layer in place deletes it first; a failure after that leaves
nothing. So a GeoPackage is always built as a new file beside the old one,
checked, and only then put in its place.
"""

import contextlib
import os
import shutil
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path

import pandas as pd
import pyogrio
from pyogrio.errors import DataSourceError

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.atomic import companions, flush_to_disk, replacing
from forestcycle.progress import Progress, Step, silent

SYNCHRONOUS = "OGR_SQLITE_SYNCHRONOUS"
"""GDAL's option for ``PRAGMA synchronous``."""


def write_layers(
    path: Path | str,
    layers: Mapping[str, pd.DataFrame],
    *,
    keep_other_layers: bool = False,
    keep_backup: bool = False,
    progress: Progress = silent,
) -> None:
    """Write layers and tables as one GeoPackage, whole or not at all.

    Parameters
    ----------
    path : Path or str
        The GeoPackage to make or replace.
    layers : mapping of str to DataFrame or GeoDataFrame
        Name to content; a DataFrame becomes an attribute table. Missing text
        and numbers become NULL. The index is not written.
    keep_other_layers : bool
        Keep the layers of an existing file that ``layers`` does not name.
    keep_backup : bool
        Keep the replaced file as ``NAME.bak``.
    progress : callable
        Told of every layer.

    Raises
    ------
    StoreError
        Where the file cannot be written or fails its check, or where another
        program has it open. The old file is then as it was.

    Notes
    -----
    Order of steps: a temporary file in the same folder; GDAL writes and
    closes it; SQLite alone opens it for ``PRAGMA integrity_check``, counts
    the rows of every layer and closes it; flush to disk; rename. GDAL and
    Python each carry their own SQLite, which cannot see each other's locks
    within a process: never are both open on one file.
    """
    path = Path(path).absolute()
    refuse_if_open(path)
    with replacing(path) as part:
        if keep_other_layers and path.exists():
            _copy_database(path, part)
        with _left_to_flush():
            for done, (name, table) in enumerate(layers.items()):
                progress(Step(f"writing {path.name}: {name}", done, len(layers)))
                _write_layer(path, part, name, table)
        _check(path, part, {name: len(table) for name, table in layers.items()})
        if keep_backup and path.exists():
            _back_up(path)
        refuse_if_open(path)


def refuse_if_open(path: Path) -> None:
    """Raise where another program is in the middle of changing a GeoPackage.

    Parameters
    ----------
    path : Path
        Need not exist.

    Raises
    ------
    StoreError
        Where a write-ahead log or a rollback journal with content lies beside
        it: SQLite would play that into whatever file has this name. Or where
        another connection has begun to write and will soon have such a journal
        ("How To Corrupt An SQLite Database File", section 2.4: renaming a
        database while it is in use).
    """
    for companion in companions(path)[:2]:
        if companion.exists() and companion.stat().st_size > 0:
            raise StoreError(
                Fault(
                    f"another program has it open, or died with it open ({companion.name} "
                    "holds changes)",
                    str(path),
                    "close it there, or open and close it once in a GIS, and try again",
                )
            )
    if path.is_file() and _is_being_written(path):
        raise StoreError(
            Fault(
                "another program is writing to it",
                str(path),
                "save or close it there, and try again; nothing was changed",
            )
        )


def _is_being_written(path: Path) -> bool:
    """Whether another connection holds SQLite's lock for writing."""
    try:
        with contextlib.closing(
            sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, timeout=0)
        ) as database:
            database.execute("BEGIN IMMEDIATE")
            database.rollback()
    except sqlite3.OperationalError as error:
        return "locked" in str(error)
    except sqlite3.Error:  # no database at all: nobody can have it open as one
        return False
    return False


@contextlib.contextmanager
def _left_to_flush() -> Iterator[None]:
    """Keep GDAL from flushing layer by layer what is flushed as a whole before it is put to use."""
    before = pyogrio.get_gdal_config_option(SYNCHRONOUS)
    pyogrio.set_gdal_config_options({SYNCHRONOUS: "OFF"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({SYNCHRONOUS: before})


def _write_layer(path: Path, part: Path, name: str, table: pd.DataFrame) -> None:
    try:
        pyogrio.write_dataframe(table, part, layer=name, driver="GPKG")
    except (DataSourceError, RuntimeError) as error:
        raise StoreError(
            Fault(
                f"cannot be written: {error} ({_free_space(path)})",
                f"{path}, layer {name}",
                "make room if the disk is full; nothing was changed",
            )
        ) from error


def _free_space(path: Path) -> str:
    """Tell the free space, because GDAL does not say that a full disk stopped it."""
    return f"{shutil.disk_usage(path.parent).free / 1e6:,.1f} MB are free on the disk"


def _check(path: Path, part: Path, rows: Mapping[str, int]) -> None:
    """Read the finished file back with SQLite alone."""
    try:
        with contextlib.closing(sqlite3.connect(f"{part.as_uri()}?mode=rw", uri=True)) as database:
            database.execute("PRAGMA journal_mode=DELETE")
            verdict = database.execute("PRAGMA integrity_check").fetchone()[0]
            listed = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")}
            found = {
                name: database.execute(f"SELECT count(*) FROM {quoted(name)}").fetchone()[0]  # noqa: S608
                for name in rows
                if name in listed
            }
    except sqlite3.Error as error:
        verdict, found = str(error), {}
    if verdict != "ok" or found != dict(rows):
        detail = verdict if verdict != "ok" else f"rows written {found}, expected {dict(rows)}"
        raise StoreError(
            Fault(
                f"did not pass its check after writing: {detail} ({_free_space(path)})",
                str(path),
                "make room if the disk is full; nothing was changed",
            )
        )


def quoted(name: str) -> str:
    """Quote a table or column name for SQL, so that none can be read as SQL.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
    """
    return '"' + name.replace('"', '""') + '"'


def _copy_database(path: Path, part: Path) -> None:
    """Copy through SQLite, which waits for writers and leaves no half page."""
    try:
        with (
            contextlib.closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as source,
            contextlib.closing(sqlite3.connect(part)) as target,
        ):
            source.backup(target)
    except sqlite3.Error as error:
        raise StoreError(
            Fault(
                f"cannot be copied: {error}", str(path), "is it a GeoPackage? nothing was changed"
            )
        ) from error


def _back_up(path: Path) -> None:
    """Keep the old file under a second name, without a moment in which it has none."""
    with replacing(path.with_name(path.name + ".bak")) as part:
        try:
            os.link(path, part)
        except OSError:  # a file system without hard links
            shutil.copy2(path, part)
            flush_to_disk(part)
