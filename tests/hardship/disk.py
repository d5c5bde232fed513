"""A small file system of its own, to fill up and to lock."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.conftest import skip_or_fail


def _mount(*words: str) -> str:
    done = subprocess.run(["mount", *words], capture_output=True, text=True, check=False)
    return done.stderr.strip() if done.returncode else ""


@contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[Path]:
    """Mount a tmpfs; without root there is none, which skips."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        skip_or_fail("mounting a small file system needs root")
    folder.mkdir()
    fault = _mount("-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder))
    if fault:
        skip_or_fail(f"cannot mount a small file system here: {fault}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@contextmanager
def read_only(disk: Path) -> Iterator[None]:
    """Mount the small file system anew, so that even root may not write."""
    assert not _mount("-o", "remount,ro", str(disk))
    try:
        yield
    finally:
        assert not _mount("-o", "remount,rw", str(disk))


@contextmanager
def nearly_full(disk: Path, free: int) -> Iterator[None]:
    """Fill the small file system up to some bytes."""
    filler = disk / "filler"
    page = b"\0" * 4096
    with filler.open("wb", buffering=0) as stream:
        while os.statvfs(disk).f_bavail * os.statvfs(disk).f_bsize > free:
            stream.write(page)
    try:
        yield
    finally:
        filler.unlink()
