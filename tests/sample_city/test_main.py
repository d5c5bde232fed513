"""``python -m sample_city`` from a terminal."""

import subprocess
import sys
from pathlib import Path


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "sample_city", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_it_writes_the_city_and_says_where(tmp_path):
    done = run(str(tmp_path / "new"), "--trees", "300", "--seed", "4")
    assert done.returncode == 0
    assert Path(done.stdout.strip()) == tmp_path / "new" / "cycle.toml"
    assert (tmp_path / "new" / "city.gpkg").exists()


def test_too_small_a_town_is_one_line(tmp_path):
    done = run(str(tmp_path), "--trees", "10")
    assert done.returncode == 2
    assert "200 are the least" in done.stderr
    assert "Traceback" not in done.stderr
