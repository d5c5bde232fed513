"""One example plan for every test of the outputs."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from forestcycle.publish import publish
from forestcycle.publish.plan_folder import PlanFolder, read_plan_folder
from tests.publish.browser import OfflinePage
from tests.publish.example_plan import write_example_plan


@pytest.fixture(scope="session")
def plan(tmp_path_factory: pytest.TempPathFactory) -> PlanFolder:
    """A small plan with hostile texts; do not change it."""
    folder: Path = tmp_path_factory.mktemp("example") / "plan"
    return read_plan_folder(write_example_plan(folder))


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example plan with all its outputs; do not change it."""
    folder: Path = tmp_path_factory.mktemp("site") / "plan"
    publish(write_example_plan(folder))
    return folder


@pytest.fixture
def opened(chromium: Browser) -> Iterator[Callable[..., OfflinePage]]:
    """Open pages without a network; none may ask for anything or complain."""
    pages: list[OfflinePage] = []

    def open_page(path: Path, **options: object) -> OfflinePage:
        pages.append(OfflinePage(chromium, path, **options))
        return pages[-1]

    yield open_page
    for page in pages:
        page.close()
