import json
import socket
import subprocess
import sys

import pytest

from forestcycle.errors import StoreError
from forestcycle.fieldwork.lock import locked


def test_a_second_person_is_kept_out_and_let_in_after(tmp_path):
    file = tmp_path / "books.gpkg"
    with locked(file), pytest.raises(StoreError, match="is being written by process"), locked(file):
        pass
    with locked(file):
        pass


def test_a_lock_left_behind_is_explained_and_kept(tmp_path):
    gone = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"],
                          capture_output=True, text=True, check=True)  # fmt: skip
    lock = tmp_path / "books.gpkg.lock"
    holder = {"pid": int(gone.stdout), "host": socket.gethostname(), "since": "2026-03-01T08:00"}
    lock.write_text(json.dumps(holder))
    with pytest.raises(StoreError, match=r"runs no more.*delete"), locked(tmp_path / "books.gpkg"):
        pass
    assert lock.exists()
