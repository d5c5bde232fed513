"""Kept machine code against a change in another file of the same folder."""

import os
import subprocess
import sys

from forestcycle.schedule.kernel.compiled import forget_outdated

CALLER = """
from numba import njit
from part import minutes

@njit(cache=True)
def twice():
    return 2 * minutes()
"""
PART = """
from numba import njit

@njit(cache=True)
def minutes():
    return {minutes}
"""


def run(folder):
    """Call the compiled function in a fresh interpreter, as the next run would."""
    environment = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    script = "import caller; print(caller.twice())"
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout)


def kept(folder):
    """Names of the compiled functions on disk."""
    return sorted(file.name for file in (folder / "__pycache__").glob("*.nb[ic]"))


def test_a_change_in_a_called_file_reaches_its_callers(tmp_path):
    (tmp_path / "caller.py").write_text(CALLER)
    (tmp_path / "part.py").write_text(PART.format(minutes=7))
    assert run(tmp_path) == 14
    forget_outdated(tmp_path)
    before = kept(tmp_path)
    assert before, "up-to-date code is kept"
    newest = max(file.stat().st_mtime_ns for file in (tmp_path / "__pycache__").iterdir())
    part = tmp_path / "part.py"
    part.write_text(PART.format(minutes=10))
    os.utime(part, ns=(newest + 10**6, newest + 10**6))
    forget_outdated(tmp_path)
    assert kept(tmp_path) == []
    assert run(tmp_path) == 20


def test_a_folder_never_compiled_is_left_alone(tmp_path):
    (tmp_path / "part.py").write_text(PART.format(minutes=7))
    forget_outdated(tmp_path)
    assert [file.name for file in tmp_path.iterdir()] == ["part.py"]
