"""Names with markup or formulas in them are only names, in every output."""

import csv
import json
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.cli.commands import run
from tests.cycle.hostile_city import FORMULA, HOSTILE, make_hostile_city


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    make_hostile_city(folder, trees=300, seed=4)
    ended = run("plan", "cycle.toml", "--out", "plan", "--rounds", 1, "--quiet", cwd=folder)
    assert ended.code == 0, ended.said
    return folder / "plan"


class Elements(HTMLParser):
    """Collects the images and the scripts' first words."""

    def __init__(self) -> None:
        super().__init__()
        self.images: list[str] = []
        self.handlers: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "img":
            self.images.append(str(dict(attrs).get("src")))
        self.handlers += [name for name, _ in attrs if name.startswith("on")]


def pages(plan: Path) -> list[Path]:
    return sorted(plan.rglob("*.html"))


def test_the_names_arrived(plan):
    with (plan / "crew_lists" / "all.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert rows
    assert all(HOSTILE in row["common_name"] and HOSTILE in row["crew"] for row in rows)
    assert HOSTILE in json.loads((plan / "summary.json").read_text(encoding="utf-8"))["city"]


def test_no_page_has_an_element_of_theirs(plan):
    kinds = {page.relative_to(plan).parts[0] for page in pages(plan)}
    assert {"index.html", "maps", "report"} <= kinds
    for page in pages(plan):
        text = page.read_text(encoding="utf-8")
        found = Elements()
        found.feed(text)
        assert "x" not in found.images, page
        assert "onerror" not in found.handlers, page
        assert "<script>document.title" not in text, page


def test_no_cell_is_a_formula(plan):
    """OWASP on CSV injection: a cell may not begin with = + - @, a tab or a return."""
    for path in sorted(plan.rglob("*.csv")):
        with path.open(encoding="utf-8-sig", newline="") as stream:
            for row in csv.reader(stream):
                assert not any(cell.startswith(FORMULA[0]) for cell in row), path


def test_file_names_are_safe_everywhere(plan):
    """Characters that Windows forbids, and markup, stay out of names."""
    for path in plan.rglob("*"):
        assert not set('<>:"|?*\\\n') & set(path.name), path


@pytest.mark.browser
def test_a_browser_runs_none_of_it(plan, chromium):
    of_each_kind = {page.parent: page for page in pages(plan)}
    page = chromium.new_context(offline=True).new_page()
    for path in of_each_kind.values():
        page.goto(path.resolve().as_uri())
        page.wait_for_timeout(300)
        assert page.title() != "harmed"
    page.context.close()
