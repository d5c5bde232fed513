"""One server for the whole run, one database for each test."""

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conftest import skip_or_fail
from tests.database.city import Town, push_layers, write_settings
from tests.database.server import PASSWORD, TEMPLATE, Server, programs, running

NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    folder = programs()
    if folder is None:
        skip_or_fail("needs Debian's packages postgresql and postgresql-NN-postgis-3")
    assert folder is not None
    with running(folder) as started:
        yield started


@pytest.fixture
def town(server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Town:
    """A database with PostGIS and nothing in it, and the password in the environment."""
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    name = f"town_{next(NUMBERS)}"
    server.sql("postgres", f"CREATE DATABASE {name} TEMPLATE {TEMPLATE}")
    return Town(server, name, tmp_path)


@pytest.fixture
def sample_town(town: Town) -> Town:
    """The sample city in PostGIS, with settings that name it."""
    push_layers(town)
    write_settings(town)
    return town
