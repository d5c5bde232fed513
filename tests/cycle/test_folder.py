import os
from pathlib import Path

import pytest

from forestcycle.cycle.folder import replacing_folder
from forestcycle.errors import StoreError


def old_plan(folder: Path) -> Path:
    folder.mkdir()
    (folder / "summary.json").write_text("old")
    return folder


def write_half(folder: Path, failure: type[BaseException]) -> None:
    with replacing_folder(folder) as fresh:
        (fresh / "summary.json").write_text("half")
        raise failure


def test_a_new_folder_stands_once_it_is_complete(tmp_path):
    with replacing_folder(tmp_path / "plan") as fresh:
        (fresh / "summary.json").write_text("new")
        assert not (tmp_path / "plan").exists()
    assert (tmp_path / "plan" / "summary.json").read_text() == "new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize("failure", [RuntimeError, KeyboardInterrupt])
def test_a_failure_leaves_the_old_results_alone(tmp_path, failure):
    folder = old_plan(tmp_path / "plan")
    with pytest.raises(failure):
        write_half(folder, failure)
    assert (folder / "summary.json").read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


def test_files_of_others_move_over(tmp_path):
    folder = old_plan(tmp_path / "plan")
    (folder / "notes of the chief.txt").write_text("keep me")
    with replacing_folder(folder) as fresh:
        (fresh / "summary.json").write_text("new")
    assert (folder / "notes of the chief.txt").read_text() == "keep me"
    assert (folder / "summary.json").read_text() == "new"


def test_a_run_killed_between_the_two_renames_is_mended(tmp_path):
    old_plan(tmp_path / ".plan-previous")
    with pytest.raises(RuntimeError), replacing_folder(tmp_path / "plan"):
        raise RuntimeError
    assert (tmp_path / "plan" / "summary.json").read_text() == "old"


def test_a_folder_that_holds_no_plan_is_refused(tmp_path):
    (tmp_path / "holiday.jpg").write_text("x")
    with pytest.raises(StoreError, match="holds files but no plan"), replacing_folder(tmp_path):
        pass
    assert (tmp_path / "holiday.jpg").exists()


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "plan").write_text("x")
    with pytest.raises(StoreError, match="is a file"), replacing_folder(tmp_path / "plan"):
        pass


def test_a_place_that_cannot_be_written_is_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError), replacing_folder(tmp_path / "file" / "plan"):
        pass


def test_what_a_killed_run_left_goes_after_a_day(tmp_path):
    old, new = tmp_path / ".plan-old.part", tmp_path / ".plan-new.part"
    for leftover in (old, new):
        leftover.mkdir()
    os.utime(old, (0, 0))
    with replacing_folder(tmp_path / "plan") as fresh:
        (fresh / "summary.json").write_text("new")
    assert not old.exists()
    assert new.exists(), "another run may be at it"
