"""A full disk, a disk that is read-only, a file that another program is writing.

Each time: what was there still is, one line says what, where and the remedy,
the exit code is that of input that cannot be used, and once the hardship is
over the command runs through.
"""

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from forestcycle.cli.exit_codes import BAD_INPUT
from tests.cli.commands import Ended, run
from tests.hardship.disk import nearly_full, read_only, small_disk
from tests.hardship.town import BOOKS, COMMANDS, PLAN, check, copy_town

FREE_BYTES = (0, 65_536)


def written(command: str) -> str:
    """File of the town that a command replaces."""
    return BOOKS if COMMANDS[command].locks == BOOKS else f"{PLAN}/plan.gpkg"


def fingerprints(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def refused(done: Ended, *words: str) -> None:
    assert done.code == BAD_INPUT, done.said
    (line,) = done.err.splitlines()
    assert " -> " in line
    for word in words:
        assert word in line


@contextmanager
def disk_with_town(template: Path, home: Path) -> Iterator[Path]:
    with small_disk(home / "disk", 24) as disk:
        copy_town(template, disk / "town")
        yield disk


@pytest.mark.parametrize("command", COMMANDS)
def test_a_full_disk_costs_nothing_but_the_command(ready_for, tmp_path: Path, command: str):
    template = ready_for(command)
    with disk_with_town(template, tmp_path) as disk:
        before = fingerprints(disk / "town")
        for free in FREE_BYTES:
            with nearly_full(disk, free):
                done = run(*COMMANDS[command].words, cwd=disk / "town")
            refused(done)
            assert "space" in done.err or "disk is full" in done.err
            assert fingerprints(disk / "town") == before, free
        done = run(*COMMANDS[command].words, cwd=disk / "town")
        assert done.code == 0, done.said
        assert check(disk / "town", template, COMMANDS[command]) == "new"


@pytest.mark.parametrize("command", COMMANDS)
def test_a_disk_that_is_read_only(ready_for, tmp_path: Path, command: str):
    template = ready_for(command)
    with disk_with_town(template, tmp_path) as disk:
        before = fingerprints(disk / "town")
        with read_only(disk):
            refused(run(*COMMANDS[command].words, cwd=disk / "town"), "Read-only file system")
        assert fingerprints(disk / "town") == before


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("begun", ["BEGIN IMMEDIATE", "CREATE TABLE mine (id)"])
def test_a_file_that_another_program_is_writing(
    ready_for, tmp_path: Path, command: str, begun: str
):
    template = ready_for(command)
    copy_town(template, tmp_path / "town")
    before = fingerprints(tmp_path / "town")
    file = tmp_path / "town" / written(command)
    other = sqlite3.connect(file, isolation_level=None)
    try:
        if begun != "BEGIN IMMEDIATE":
            other.execute("BEGIN")
        other.execute(begun)
        refused(run(*COMMANDS[command].words, cwd=tmp_path / "town"), "another program", file.name)
        other.execute("COMMIT" if begun != "BEGIN IMMEDIATE" else "ROLLBACK")
    finally:
        other.close()
    kept = fingerprints(tmp_path / "town")
    assert kept.keys() == before.keys()
    assert {name for name in kept if kept[name] != before[name]} <= {written(command)}
    done = run(*COMMANDS[command].words, cwd=tmp_path / "town")
    assert done.code == 0, done.said
    assert check(tmp_path / "town", template, COMMANDS[command]) == "new"


@pytest.mark.parametrize("command", COMMANDS)
def test_a_lock_that_says_nothing_is_explained_by_what_it_locks(
    ready_for, tmp_path: Path, command: str
):
    copy_town(ready_for(command), tmp_path / "town")
    lock = tmp_path / "town" / f"{COMMANDS[command].locks}.lock"
    lock.write_text("")
    kept = "the books" if COMMANDS[command].locks == BOOKS else "the plan"
    refused(
        run(*COMMANDS[command].words, cwd=tmp_path / "town"), lock.name, kept, "delete this file"
    )
    if command != "publish":
        assert check(tmp_path / "town", ready_for(command), COMMANDS[command]) == "old"
