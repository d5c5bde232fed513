"""Ctrl-C, sent to a process of its own as a terminal sends it."""

import json
import signal
import threading
from pathlib import Path

import pytest

import sample_city
from forestcycle.schedule.verify import verify
from tests.cli.commands import start
from tests.cycle.revision_city import FROM, make_planned_city

LONG_ENOUGH = 120


@pytest.fixture(scope="module")
def city(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("city")
    sample_city.make(folder, trees=900, seed=5)
    return folder


def interrupt_at(stage: str, city: Path, out: Path, *, seconds: int) -> tuple[int, str]:
    """Plan, press Ctrl-C once a stage has been reached; exit code and what was said."""
    words = ("plan", "cycle.toml", "--out", out, "--time-limit", seconds)
    return interrupted(words, stage, city)


def interrupted(words: tuple[object, ...], stage: str, city: Path) -> tuple[int, str]:
    process = start(*words, cwd=city)
    watch = threading.Timer(LONG_ENOUGH, process.kill)
    watch.start()
    seen = []
    try:
        for line in process.stderr or ():
            seen.append(line)
            if line.startswith(stage):
                process.send_signal(signal.SIGINT)
                break
        _, rest = process.communicate()
    finally:
        watch.cancel()
    return process.returncode, "".join(seen) + rest


def test_while_packing_the_best_plan_is_kept(city, tmp_path):
    code, said = interrupt_at("packing", city, tmp_path / "plan", seconds=LONG_ENOUGH)
    assert code == 130, said
    assert "Traceback" not in said
    assert "interrupted: this is the best plan found by then" in said
    summary = json.loads((tmp_path / "plan" / "summary.json").read_text(encoding="utf-8"))
    assert summary["interrupted"] is True
    assert summary["trees_planned"] > 0
    assert summary["seconds"] < LONG_ENOUGH
    assert verify(tmp_path / "plan").ok
    assert (tmp_path / "plan" / "index.html").is_file()
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


def test_while_repacking_the_best_revision_is_kept(tmp_path):
    city = make_planned_city(tmp_path / "city")
    words = ("revise", "cycle.toml", "--from", FROM, "--time-limit", LONG_ENOUGH)
    code, said = interrupted(words, "repacking", city)
    assert code == 130, said
    assert "Traceback" not in said
    assert "interrupted: this is the best revision found by then" in said
    report = json.loads((city / "plan" / "revision.json").read_text(encoding="utf-8"))
    assert report["interrupted"] is True
    assert verify(city / "plan").ok
    assert (city / "plan" / "index.html").is_file()


@pytest.mark.parametrize("stage", ["reading trees", "assess: ", "crew lists"])
def test_at_any_other_time_the_old_plan_stays(city, tmp_path, stage):
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "summary.json").write_text("old")
    code, said = interrupt_at(stage, city, tmp_path / "plan", seconds=1)
    assert code == 130, said
    assert "Traceback" not in said
    assert "nothing was left half-written" in said
    assert (tmp_path / "plan" / "summary.json").read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]
