"""Files that belong together are of one run, or the one that readers look for is not there."""

import errno
import os

import pytest

from forestcycle.errors import StoreError
from forestcycle.inventory.together import replacing_together

NAMES, SIGN = ("one.csv", "two.csv", "sign.json"), "sign.json"


def write(folder, text, names=NAMES):
    with replacing_together(folder, NAMES, sign=SIGN) as fresh:
        for name in names:
            (fresh / name).write_text(text)


def texts(folder):
    return {path.name: path.read_text() for path in folder.iterdir()}


def test_files_are_replaced_and_those_of_others_stay(tmp_path):
    write(tmp_path / "out", "old")
    (tmp_path / "out" / "notes.txt").write_text("mine")
    write(tmp_path / "out", "new", names=("one.csv", "sign.json"))
    assert texts(tmp_path / "out") == {"one.csv": "new", "sign.json": "new", "notes.txt": "mine"}


def test_a_failure_while_writing_leaves_the_old_files(tmp_path):
    write(tmp_path, "old")
    with pytest.raises(OSError, match=r"[Dd]irectory"):
        write(tmp_path, "new", names=("one.csv", "."))
    assert texts(tmp_path) == dict.fromkeys(NAMES, "old")


@pytest.mark.parametrize("moves", [0, 1, 2, 3])
def test_whoever_finds_the_sign_finds_one_run(tmp_path, monkeypatch, moves):
    """The disk refuses after so many renames."""
    write(tmp_path, "old")
    rename, done = os.replace, []

    def refusing(source, target, **options):
        if len(done) == moves:
            raise OSError(errno.EIO, "Input/output error")
        done.append(target)
        rename(source, target, **options)

    monkeypatch.setattr("os.replace", refusing)
    if moves == len(NAMES):
        write(tmp_path, "new")
    else:
        with pytest.raises(StoreError, match="Input/output"):
            write(tmp_path, "new")
    found = texts(tmp_path)
    assert SIGN not in found or len(set(found.values())) == 1
    assert not list(tmp_path.glob(".together*"))


def test_a_folder_that_is_a_file_is_refused(tmp_path):
    (tmp_path / "out").write_text("")
    with pytest.raises(StoreError, match="cannot be written"):
        write(tmp_path / "out", "new")


def test_what_a_killed_run_left_goes_after_a_day(tmp_path):
    for name, age in ((".together-old.part", 2), (".together-new.part", 0)):
        (tmp_path / name).mkdir()
        then = (tmp_path / name).stat().st_mtime - age * 86_400
        os.utime(tmp_path / name, (then, then))
    write(tmp_path, "new")
    assert {path.name for path in tmp_path.iterdir()} == {*NAMES, ".together-new.part"}
