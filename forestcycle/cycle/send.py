"""Send a plan and the recorded visits into the city's database."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pandas as pd

from forestcycle.errors import Fault, SettingsError, StoreError
from forestcycle.fieldwork.books import read_books
from forestcycle.inventory.database import Database
from forestcycle.inventory.results import write_tables
from forestcycle.inventory.source import books_path, sha256_of
from forestcycle.progress import Progress, silent
from forestcycle.publish.plan_folder import PLAN_FILE, read_plan_layer
from forestcycle.settings import CycleSettings, load_settings
from forestcycle.settings.address import is_address
from forestcycle.version import VERSION

PLAN_LAYERS = ("trees", "stops", "crew_days", "legs", "work")
VISITS, SENT = "recorded_visits", "sent"


@dataclass(frozen=True)
class Sent:
    """What was sent.

    Attributes
    ----------
    database : Database
    schema : str
    rows : dict of str to int
        By table.
    """

    database: Database
    schema: str
    rows: dict[str, int]


def send_results(
    path: Path | str, plan: Path | str | None = None, *, progress: Progress = silent
) -> Sent:
    """Write a plan and the recorded visits into the city's database, in one transaction.

    The tables are forestcycle's own, in a schema of their own; the inventory's
    are never written. Sending the same again leaves the same rows.

    Parameters
    ----------
    path : Path or str
        The settings file.
    plan : Path or str, optional
        The plan's folder; without it, the recorded visits alone.
    progress : Progress, optional

    Returns
    -------
    Sent

    Raises
    ------
    SettingsError
        The settings name no database.
    StoreError
        A file cannot be read, or the database refuses; then nothing there changed.
    """
    path = Path(path)
    settings = load_settings(path)
    database = _database(settings, path)
    books = books_path(settings, path.parent)
    tables: dict[str, Callable[[], pd.DataFrame]] = {}
    plan_file = None if plan is None else _plan_file(Path(plan))
    if plan_file is not None:
        read = partial(read_plan_layer, plan_file.parent)
        tables |= {f"plan_{layer}": partial(read, layer) for layer in PLAN_LAYERS}
    tables[VISITS] = lambda: read_books(books).visits
    tables[SENT] = lambda: _sent(settings, plan_file, books)
    schema = settings.database.results_schema
    return Sent(database, schema, write_tables(database, schema, tables, progress=progress))


def _database(settings: CycleSettings, path: Path) -> Database:
    address = settings.database.address or settings.city.inventory
    if not is_address(address):
        raise SettingsError(
            Fault(
                "no database is named",
                str(path),
                "set address under [database], such as 'postgresql://forester@db.example/trees'",
            )
        )
    return Database(address)


def _plan_file(folder: Path) -> Path:
    file = folder / PLAN_FILE
    if not file.is_file():
        raise StoreError(Fault("no such file", str(file), "name a plan's folder"))
    return file


def _sent(settings: CycleSettings, plan: Path | None, books: Path) -> pd.DataFrame:
    """One row that says what the other tables hold."""
    facts = {
        "city": settings.city.name,
        "sent_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "plan_sha256": sha256_of(plan) if plan else None,
        "books_sha256": sha256_of(books) if books.exists() else None,
        "version": VERSION,
    }
    return pd.DataFrame({name: pd.Series([value], dtype="str") for name, value in facts.items()})
