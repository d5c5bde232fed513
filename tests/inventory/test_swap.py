"""A folder takes another's place in one step."""

import os
from pathlib import Path

import pytest

from forestcycle.inventory import swap
from forestcycle.inventory.swap import carry_over, exchange, flush_file_system, replace_folder


def two(folder: Path) -> tuple[Path, Path]:
    for name in ("new", "old"):
        (folder / name).mkdir()
        (folder / name / "what.txt").write_text(name)
    return folder / "new", folder / "old"


@pytest.mark.skipif(os.uname().sysname != "Linux", reason="renameat2 is Linux's")
def test_names_are_exchanged_without_a_moment_in_which_one_is_missing(tmp_path):
    new, old = two(tmp_path)
    assert exchange(new, old)
    assert (old / "what.txt").read_text() == "new"
    assert (new / "what.txt").read_text() == "old"
    assert not exchange(new, tmp_path / "nothing")


@pytest.mark.parametrize("can_exchange", [True, False])
def test_the_new_folder_stands_where_the_old_one_stood(tmp_path, monkeypatch, can_exchange):
    if not can_exchange:
        monkeypatch.setattr(swap, "_library", lambda: None)
    new, old = two(tmp_path)
    flush_file_system(new)
    replace_folder(new, old, tmp_path / "previous")
    assert (old / "what.txt").read_text() == "new"
    assert not (tmp_path / "previous").exists()


def test_what_others_put_there_is_in_both_until_the_old_one_goes(tmp_path):
    new, old = two(tmp_path)
    (old / "photos" / "may").mkdir(parents=True)
    (old / "photos" / "may" / "oak.jpg").write_bytes(b"oak")
    (old / "link").symlink_to("what.txt")
    for name in ("photos", "link"):
        carry_over(old / name, new)
    for folder in (new, old):
        assert (folder / "photos" / "may" / "oak.jpg").read_bytes() == b"oak"
        assert (folder / "link").readlink() == Path("what.txt")
