"""Publishing replaces all outputs, or none."""

import pytest

from forestcycle.errors import StoreError
from forestcycle.progress import Step
from forestcycle.publish import publish, publishing
from tests.publish.example_plan import write_example_plan


@pytest.fixture
def folder(tmp_path):
    return write_example_plan(tmp_path / "plan")


@pytest.fixture
def processes(monkeypatch):
    monkeypatch.setattr(publishing, "DAYS_OF_A_PROCESS", 1)


def test_outputs_of_an_older_plan_do_not_stay(folder):
    stale = folder / "maps" / "crews" / "Old crew 2026-W11.html"
    stale.parent.mkdir(parents=True)
    stale.write_text("old")
    (folder / "chief's notes.txt").write_text("mine")
    publish(folder)
    assert not stale.exists()
    assert (folder / "chief's notes.txt").read_text() == "mine"


def test_progress_is_told(folder):
    steps: list[Step] = []
    publish(folder, progress=steps.append)
    assert {"reading the plan", "day maps", "city map", "report"} <= {step.stage for step in steps}


@pytest.mark.usefixtures("processes")
def test_processes_write_the_same(folder):
    def written() -> dict[str, bytes]:
        files = (path for path in folder.rglob("*") if path.is_file() and path.suffix != ".gpkg")
        return {str(path.relative_to(folder)): path.read_bytes() for path in files}

    publish(folder)
    alone = written()
    publish(folder, workers=2)
    assert len(alone) > 10
    assert written() == alone


@pytest.mark.usefixtures("processes")
@pytest.mark.parametrize("stage", ["crew sheets", "city map"])
def test_an_interruption_beside_processes_leaves_the_old_outputs(folder, stage):
    def interrupt(step: Step) -> None:
        if step.stage == stage:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        publish(folder, workers=2, progress=interrupt)
    assert {entry.name for entry in folder.iterdir()} == {"plan.gpkg", "summary.json"}


def test_an_interruption_leaves_the_old_outputs(folder):
    index = folder / "index.html"
    index.write_text("old")

    def interrupt(step: Step) -> None:
        if step.stage == "city map":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        publish(folder, progress=interrupt)
    assert index.read_text() == "old"
    assert {entry.name for entry in folder.iterdir()} == {"index.html", "plan.gpkg", "summary.json"}


def test_a_full_disk_is_one_clear_fault(folder):
    def no_space(step: Step) -> None:
        if step.stage == "city map":
            raise OSError(28, "No space left on device")

    with pytest.raises(StoreError, match="No space left"):
        publish(folder, progress=no_space)
    assert {entry.name for entry in folder.iterdir()} == {"plan.gpkg", "summary.json"}
