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
from tests.hardship.town import BOOKS, COMMANDS, LOCK, PLAN, check, copy_town

FREE_BYTES = {
    "record": (0, 8_192, 65_536),
    "undo": (0, 65_536),
    "plan": (0, 65_536, 262_144),
    "publish": (0, 65_536, 262_144),
}
WRITTEN = {
    "record": BOOKS,
    "undo": BOOKS,
    "plan": f"{PLAN}/plan.gpkg",
    "publish": f"{PLAN}/plan.gpkg",
}


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
def test_a_full_disk_costs_nothing_but_the_command(template: Path, tmp_path: Path, command: str):
    with disk_with_town(template, tmp_path) as disk:
        before = fingerprints(disk / "town")
        for free in FREE_BYTES[command]:
            with nearly_full(disk, free):
                done = run(*COMMANDS[command], cwd=disk / "town")
            refused(done)
            assert "space" in done.err or "disk is full" in done.err
            assert fingerprints(disk / "town") == before, free
        done = run(*COMMANDS[command], cwd=disk / "town")
        assert done.code == 0, done.said
        assert check(disk / "town", template, command) == "new"


def test_a_disk_that_is_read_only(template: Path, tmp_path: Path):
    with disk_with_town(template, tmp_path) as disk:
        before = fingerprints(disk / "town")
        with read_only(disk):
            for command in COMMANDS:
                refused(run(*COMMANDS[command], cwd=disk / "town"), "Read-only file system")
        assert fingerprints(disk / "town") == before


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("begun", ["BEGIN IMMEDIATE", "CREATE TABLE mine (id)"])
def test_a_file_that_another_program_is_writing(
    template: Path, tmp_path: Path, command: str, begun: str
):
    copy_town(template, tmp_path / "town")
    before = fingerprints(tmp_path / "town")
    file = tmp_path / "town" / WRITTEN[command]
    other = sqlite3.connect(file, isolation_level=None)
    try:
        if begun != "BEGIN IMMEDIATE":
            other.execute("BEGIN")
        other.execute(begun)
        refused(run(*COMMANDS[command], cwd=tmp_path / "town"), "another program", file.name)
        other.execute("COMMIT" if begun != "BEGIN IMMEDIATE" else "ROLLBACK")
    finally:
        other.close()
    kept = fingerprints(tmp_path / "town")
    assert kept.keys() == before.keys()
    assert {name for name in kept if kept[name] != before[name]} <= {WRITTEN[command]}
    done = run(*COMMANDS[command], cwd=tmp_path / "town")
    assert done.code == 0, done.said
    assert check(tmp_path / "town", template, command) == "new"


@pytest.mark.parametrize("command", ["record", "undo"])
def test_a_lock_that_a_dead_process_left_is_explained(template: Path, tmp_path: Path, command: str):
    copy_town(template, tmp_path / "town")
    (tmp_path / "town" / LOCK).write_text("")
    refused(run(*COMMANDS[command], cwd=tmp_path / "town"), LOCK, "delete this file")
    assert check(tmp_path / "town", template, command) == "old"
