"""Whole commands killed with SIGKILL leave all of a change or nothing of it.

A few kills each; ``python -m tests.hardship.kill --steps 1000 --random 300`` does hundreds.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hardship.town import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
STEPS = {"record": 8, "undo": 8, "plan": 5, "publish": 5}


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need fork")
@pytest.mark.parametrize("command", COMMANDS)
def test_a_killed_command_leaves_all_or_nothing(command):
    words = ["--commands", command, "--steps", str(STEPS[command]), "--random", "4"]
    done = subprocess.run(
        [sys.executable, "-m", "tests.hardship.kill", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    counts = json.loads(done.stdout.splitlines()[-1])[command]
    assert counts["killed"] >= STEPS[command]
    assert counts["steps"] >= 10
