import json
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from forestcycle.errors import StoreError
from forestcycle.fieldwork.lock import locked

HOLD = """
import sys, time
from pathlib import Path
from forestcycle.fieldwork.lock import locked
with locked(Path(sys.argv[1]), "the plan"):
    print("held", flush=True)
    time.sleep(60)
"""


def holding(file: Path) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(file)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def test_a_second_person_is_kept_out_and_let_in_after(tmp_path):
    file = tmp_path / "plan"
    with locked(file, "the plan"):
        for _ in range(2):
            with pytest.raises(StoreError, match="has been writing the plan since"):  # noqa: SIM117
                with locked(file, "the plan"):
                    pass
    with locked(file, "the plan"):
        pass
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="there a lock is cleared by hand")
def test_a_lock_is_kept_while_its_process_lives_and_cleared_when_it_was_killed(tmp_path):
    file, said = tmp_path / "plan", []
    process = holding(file)
    try:
        with pytest.raises(StoreError, match=f"process {process.pid}"), locked(file, "the plan"):
            pass
    finally:
        process.kill()
        process.communicate()
    assert (tmp_path / "plan.lock").exists()
    with locked(file, "the plan", progress=lambda step: said.append(str(step))):
        pass
    assert len(said) == 1
    assert said[0].startswith(f"cleared a lock on the plan, left behind by process {process.pid} ")
    assert not (tmp_path / "plan.lock").exists()


@pytest.mark.parametrize("holder", [None, {"pid": 1, "host": "another", "since": "2026-03-01"}])
def test_a_lock_of_another_computer_or_of_nobody_known_is_explained_and_kept(tmp_path, holder):
    lock = tmp_path / "books.gpkg.lock"
    lock.write_text("" if holder is None else json.dumps(holder))
    with pytest.raises(StoreError, match="writing the books") as refused:  # noqa: SIM117
        with locked(tmp_path / "books.gpkg", "the books"):
            pass
    assert "delete this file" in str(refused.value)
    assert lock.exists()
    assert socket.gethostname() not in lock.read_text()
