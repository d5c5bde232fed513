"""What killed processes left among the temporary files goes; what is in use stays."""

import os
import tempfile
import time

import pytest

from forestcycle.parallel.parcel_folder import PREFIX, SECONDS_TO_LOCK, ParcelFolder
from tests.parallel.test_processes import start_slow_tasks

LONG_AGO = time.time() - 2 * SECONDS_TO_LOCK


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr(tempfile, "tempdir", None)
    return tmp_path


def older(folder):
    os.utime(folder, (LONG_AGO, LONG_AGO))
    return folder


def left_behind(place, name="1.parcel"):
    folder = place / f"{PREFIX}left"
    folder.mkdir()
    (folder / name).write_bytes(b"arrays")
    return older(folder)


def test_a_folder_goes_with_its_parcels(place):
    folder = ParcelFolder()
    folder.new_parcel().write_bytes(b"arrays")
    assert folder.new_parcel() != folder.new_parcel()
    folder.remove()
    folder.remove()
    assert list(place.iterdir()) == []


def test_what_was_left_behind_goes(place):
    left = left_behind(place)
    ParcelFolder().remove()
    assert not left.exists()


def test_what_was_made_a_moment_ago_stays(place):
    left = left_behind(place)
    os.utime(left)
    ParcelFolder().remove()
    assert (left / "1.parcel").exists()


def test_what_another_holds_stays():
    first = ParcelFolder()
    first.new_parcel().write_bytes(b"arrays")
    older(first.path)
    ParcelFolder().remove()
    assert (first.path / "1.parcel").exists()
    first.remove()


def test_nothing_of_other_people_goes(place):
    left = left_behind(place, name="notes.txt")
    outside = place / "outside"
    outside.mkdir()
    (outside / "1.parcel").write_bytes(b"mine")
    older(outside)
    (place / f"{PREFIX}link").symlink_to(outside)
    os.utime(place / f"{PREFIX}link", (LONG_AGO, LONG_AGO), follow_symlinks=False)
    (place / f"{PREFIX}file").write_bytes(b"mine")
    older(place / f"{PREFIX}file")
    ParcelFolder().remove()
    assert (left / "notes.txt").exists()
    assert (outside / "1.parcel").exists()
    assert (place / f"{PREFIX}file").exists()


def test_the_next_run_clears_up_behind_a_killed_one(place):
    process = start_slow_tasks(place)
    while process.stdout.readline() != "done\n":
        pass
    (folder,) = place.glob(f"{PREFIX}*")
    older(folder)
    ParcelFolder().remove()
    assert list(folder.iterdir())  # it runs, so it holds it
    process.kill()
    process.communicate(timeout=60)
    older(folder)
    ParcelFolder().remove()
    assert not folder.exists()
