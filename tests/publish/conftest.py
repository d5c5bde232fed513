"""One example plan for every test of the outputs."""

from pathlib import Path

import pytest

from forestcycle.publish.plan_folder import PlanFolder, read_plan_folder
from tests.publish.example_plan import write_example_plan


@pytest.fixture(scope="session")
def plan(tmp_path_factory: pytest.TempPathFactory) -> PlanFolder:
    """A small plan with hostile texts; do not change it."""
    folder: Path = tmp_path_factory.mktemp("example") / "plan"
    return read_plan_folder(write_example_plan(folder))
