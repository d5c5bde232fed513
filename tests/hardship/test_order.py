"""A power cut keeps what was flushed: content first, then the name, then the folder's entry.

Pillai et al., "All File Systems Are Not Created Equal" (OSDI 2014), section 4: a rename may
reach the disk before the data of the file unless the file was flushed before it.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.cli.commands import run
from tests.hardship.kill import WRITING_FLAGS
from tests.hardship.town import BOOKS, COMMANDS, PLAN, copy_town

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc and calls of Linux")


@dataclass
class Record:
    """What this process asked of the system, in order: ``(call, path)``."""

    on: bool = False
    calls: list[tuple[str, str]] = field(default_factory=list)

    def add(self, call: str, path: object) -> None:
        self.calls.append((call, str(Path(os.fsdecode(path)).absolute())))  # type: ignore[arg-type]

    def hear(self, event: str, arguments: tuple[object, ...]) -> None:
        if not self.on:
            return
        if event == "open" and isinstance(arguments[0], str | bytes | os.PathLike):
            if isinstance(arguments[2], int) and arguments[2] & WRITING_FLAGS:
                self.add("write", arguments[0])
        elif event == "os.rename":
            self.add("rename to", arguments[1])
        elif event == "ctypes.dlsym" and arguments[1] in ("syncfs", "renameat2"):
            self.calls.append((str(arguments[1]), ""))


RECORD = Record()
sys.addaudithook(RECORD.hear)


@contextmanager
def recording(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[str, str]]]:
    fsync = os.fsync

    def recorded(descriptor: int) -> None:
        RECORD.add("flush", Path(f"/proc/self/fd/{descriptor}").readlink())
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", recorded)
    RECORD.calls, RECORD.on = [], True
    try:
        yield RECORD.calls
    finally:
        RECORD.on = False


@pytest.mark.parametrize("command", ["record", "undo record"])
def test_the_books_are_flushed_before_they_get_their_name(template, tmp_path, monkeypatch, command):
    copy_town(template, tmp_path / "town")
    with recording(monkeypatch) as calls:
        assert run(*COMMANDS[command].words, cwd=tmp_path / "town").code == 0
    books = str((tmp_path / "town" / BOOKS).absolute())
    named = calls.index(("rename to", books))
    part = next(path for call, path in reversed(calls[:named]) if call == "flush")
    assert ".part" in part
    flushed = max(i for i, call in enumerate(calls[:named]) if call == ("flush", part))
    assert ("write", part) not in calls[flushed:named]
    assert ("flush", str(tmp_path / "town")) in calls[named:]
    backup = calls.index(("rename to", f"{books}.bak"))
    assert backup < named


@pytest.mark.parametrize("command", ["plan", "revise", "undo revise"])
def test_a_plan_is_on_the_disk_before_it_stands_in_the_old_ones_place(
    ready_for, tmp_path, monkeypatch, command
):
    copy_town(ready_for(command), tmp_path / "town")
    with recording(monkeypatch) as calls:
        assert run(*COMMANDS[command].words, cwd=tmp_path / "town").code == 0
    exchanged = max(i for i, (call, _) in enumerate(calls) if call == "renameat2")
    flushed = max(i for i, (call, _) in enumerate(calls[:exchanged]) if call == "syncfs")
    between = {call for call, _ in calls[flushed:exchanged]}
    assert not between & {"write", "rename to"}
    assert ("flush", str(tmp_path / "town")) in calls[exchanged:]


def test_outputs_are_on_the_disk_before_they_move_into_place(template, tmp_path, monkeypatch):
    copy_town(template, tmp_path / "town")
    plan = tmp_path / "town" / PLAN
    with recording(monkeypatch) as calls:
        assert run(*COMMANDS["publish"].words, cwd=tmp_path / "town").code == 0
    moved = next(
        i for i, call in enumerate(calls) if call == ("rename to", str(plan / "index.html"))
    )
    flushed = max(i for i, (call, _) in enumerate(calls[:moved]) if call == "syncfs")
    assert not [call for call in calls[flushed:] if call[0] == "write"]
    assert ("flush", str(plan)) in calls[moved:]
