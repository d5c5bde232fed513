"""A PostgreSQL database: its address, the way in, and what it says when it refuses.

The password is never part of an address: it comes from the environment
variable ``PGPASSWORD`` or from ``~/.pgpass``, which the driver reads itself.
"""

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from forestcycle.errors import Fault, InventoryError, StoreError
from forestcycle.settings.address import carries_password, without_password

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection, Engine

CONNECT_SECONDS = 10
REFUSED_PASSWORD = ("password", "no pg_hba.conf entry", "authentication")
NOT_ALLOWED = "42501"
NO_SUCH_FUNCTION = "42883"


@dataclass(frozen=True)
class Database:
    """A database by its address.

    Attributes
    ----------
    address : str
        Such as ``postgresql://forester@db.example/trees``. What it leaves out
        comes from the standard variables ``PGHOST``, ``PGUSER`` and so on.
    """

    address: str

    def __post_init__(self) -> None:
        if carries_password(self.address):
            raise InventoryError(
                Fault(
                    "carries a password, which would end up in logs and plans",
                    str(self),
                    "give it in the environment variable PGPASSWORD or in ~/.pgpass",
                )
            )

    def __str__(self) -> str:
        return without_password(self.address)

    @property
    def name(self) -> str:
        """The database's name, or ``database`` where the environment says it."""
        path = self.address.partition("://")[2].partition("?")[0].partition("/")[2]
        return path or "database"


@contextlib.contextmanager
def reading(database: Database) -> Iterator["Connection"]:
    """Open a database for reading: one snapshot, and nothing can be changed.

    Parameters
    ----------
    database : Database

    Yields
    ------
    Connection
        Of SQLAlchemy.

    Raises
    ------
    InventoryError
        The extra is missing; the server is not reached or refuses; or a
        statement of the body fails.
    """
    try:
        with (
            _connected(database) as connection,
            connection.execution_options(
                isolation_level="REPEATABLE READ", postgresql_readonly=True
            ).begin(),
        ):
            yield connection
    except _DatabaseRefused as refused:
        raise InventoryError(refused.fault) from None


@contextlib.contextmanager
def writing(database: Database) -> Iterator["Connection"]:
    """Open a database for one transaction, committed at the end of the body or not at all.

    Parameters
    ----------
    database : Database

    Yields
    ------
    Connection
        Of SQLAlchemy.

    Raises
    ------
    StoreError
        As for :func:`reading`; then nothing has changed.
    """
    try:
        with _connected(database) as connection, connection.begin():
            yield connection
    except _DatabaseRefused as refused:
        raise StoreError(refused.fault) from None


class _DatabaseRefused(Exception):  # noqa: N818 - never leaves this file
    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


@contextlib.contextmanager
def _connected(database: Database) -> Iterator["Connection"]:
    engine = _engine(database)
    from psycopg import Error
    from sqlalchemy.exc import SQLAlchemyError

    inside = False
    try:
        with engine.connect() as connection:
            inside = True
            yield connection
    except (SQLAlchemyError, Error) as error:
        raise _DatabaseRefused(_refusal(database, error, inside=inside)) from None
    finally:
        engine.dispose()


def _engine(database: Database) -> "Engine":
    try:
        import psycopg  # noqa: F401 - the driver, which SQLAlchemy would miss later
        from sqlalchemy import create_engine, make_url
        from sqlalchemy.exc import ArgumentError
        from sqlalchemy.pool import NullPool
    except ImportError:
        raise _DatabaseRefused(
            Fault(
                "needs the optional part 'postgis', which is not installed",
                str(database),
                "pip install 'forestcycle[postgis]'",
            )
        ) from None
    try:
        url = make_url(database.address).set(drivername="postgresql+psycopg")
    except (ArgumentError, ValueError):
        raise _DatabaseRefused(
            Fault(
                "is no address of a database",
                str(database),
                "write it as postgresql://user@host:5432/database",
            )
        ) from None
    return create_engine(
        url,
        poolclass=NullPool,
        connect_args={"connect_timeout": CONNECT_SECONDS, "application_name": "forestcycle"},
    )


def _refusal(database: Database, error: Exception, *, inside: bool) -> Fault:
    """Say in one line what the server said, and what to do about it."""
    cause: object = getattr(error, "orig", None) or error
    lines = [line.strip() for line in str(cause).splitlines() if line.strip()]
    said = without_password(lines[0] if lines else type(cause).__name__)
    if not inside:
        refused = any(word in said for word in REFUSED_PASSWORD)
        return Fault(
            f"cannot be opened: {said}",
            str(database),
            "set PGPASSWORD or write ~/.pgpass, and check the user's name"
            if refused
            else "check host, port and database in the address, and that the server runs",
        )
    state = getattr(cause, "sqlstate", None)
    if state == NOT_ALLOWED:
        remedy = "ask the database's keeper for the right (GRANT) to do this"
    elif state == NO_SUCH_FUNCTION:
        remedy = "is PostGIS there? CREATE EXTENSION postgis"
    else:
        remedy = "nothing was changed; mend the cause and try again"
    return Fault(f"refused: {said}", str(database), remedy)
