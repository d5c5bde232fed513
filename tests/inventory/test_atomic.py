"""Files are replaced in one step."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import StoreError
from forestcycle.inventory import atomic
from forestcycle.inventory.atomic import (
    flushed_together,
    replacing,
    write_bytes_atomically,
    write_text_atomically,
)


def test_text_is_written_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "new" / "crew.csv"
    write_text_atomically(path, "Tree,Näme\r\n1,×\r\n")
    assert path.read_bytes() == "Tree,Näme\r\n1,×\r\n".encode()
    assert [item.name for item in path.parent.iterdir()] == ["crew.csv"]


@given(st.binary())
def test_any_bytes_come_back(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a"
        write_bytes_atomically(path, b"old")
        write_bytes_atomically(path, content)
        assert path.read_bytes() == content


class Interrupted(BaseException):
    """Stands for whatever may end a program in the middle."""


def test_a_failure_in_the_middle_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")

    def interrupted() -> None:
        with replacing(path) as part:
            part.write_text("half")
            raise Interrupted

    with pytest.raises(Interrupted):
        interrupted()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_a_file_is_a_clear_fault(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match=r"cannot be written: .*nothing was changed"):
        write_text_atomically(tmp_path / "file" / "a.txt", "new")


def test_a_target_that_is_a_folder_is_a_clear_fault(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(StoreError, match="cannot be written"):
        write_text_atomically(tmp_path / "a.txt", "new")
    assert [item.name for item in tmp_path.iterdir()] == ["a.txt"]


def test_a_read_only_folder_is_a_clear_fault(tmp_path: Path) -> None:
    """As an ordinary user, since root may write anywhere."""
    folder = tmp_path / "locked"
    folder.mkdir()
    (folder / "a.txt").write_text("old")
    script = (
        "import os, sys\n"
        "from forestcycle.inventory.atomic import write_text_atomically\n"
        "from forestcycle.errors import StoreError\n"
        "if os.geteuid() == 0: os.setuid(65534)\n"
        "try: write_text_atomically(sys.argv[1], 'new')\n"
        "except StoreError as error: print(error)\n"
    )
    folder.chmod(0o555)
    for parent in (tmp_path, *tmp_path.parents):
        if parent.owner() == tmp_path.owner() and parent.name.startswith(("pytest", "test")):
            parent.chmod(0o755)
    try:
        done = subprocess.run(
            [sys.executable, "-c", script, str(folder / "a.txt")],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "HOME": str(tmp_path)},
        )
    finally:
        folder.chmod(0o755)
    assert "cannot be written: Permission denied" in done.stdout
    assert (folder / "a.txt").read_text() == "old"


def test_what_a_killed_write_left_goes_after_a_day(tmp_path):
    old, new = tmp_path / ".list.0a1b2c3d.part.csv", tmp_path / ".list.4e5f6a7b.part.csv"
    for leftover in (old, new):
        leftover.write_text("half")
    os.utime(old, (0, 0))
    write_text_atomically(tmp_path / "list.csv", "whole")
    assert not old.exists()
    assert new.exists(), "another process may be at it"


def test_files_flushed_together_are_not_flushed_one_by_one(tmp_path, monkeypatch):
    flushed: list[Path] = []
    monkeypatch.setattr(atomic, "flush_to_disk", flushed.append)
    with flushed_together():
        write_text_atomically(tmp_path / "one.csv", "one")
    assert not flushed
    assert (tmp_path / "one.csv").read_text() == "one"
    write_text_atomically(tmp_path / "two.csv", "two")
    assert [path.parent for path in flushed] == [tmp_path, tmp_path.parent]
