"""Whole commands killed with SIGKILL leave all of a change or nothing of it.

A few kills each; ``python -m tests.hardship.kill --steps 1000 --random 300`` does hundreds.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import skip_or_fail
from tests.database.server import programs
from tests.hardship.kill import EVERY
from tests.hardship.sending import SEND

ROOT = Path(__file__).resolve().parents[2]
STEPS, AT_RANDOM = 1, 1


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need fork")
def test_a_killed_command_leaves_all_or_nothing():
    if programs() is None:
        skip_or_fail("needs Debian's packages postgresql and postgresql-NN-postgis-3")
    words = ["--steps", str(STEPS), "--random", str(AT_RANDOM)]
    done = subprocess.run(
        [sys.executable, "-m", "tests.hardship.kill", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    counts = json.loads(done.stdout.splitlines()[-1])
    for command in (*EVERY, SEND):
        assert counts[command]["killed"] >= STEPS, command
        assert counts[command]["steps"] >= 3, command
