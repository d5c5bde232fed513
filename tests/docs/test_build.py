"""The docs build without a warning: every page found, every link leads somewhere."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import forestcycle
from forestcycle.errors import FaultList
from tests.conftest import ROOT

FETCHES = re.compile(r"<(?:script|link|img|iframe)\b[^>]*(?:src|href)=\"(?:https?:)?//[^\"]*")


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    folder = tmp_path_factory.mktemp("docs")
    sphinx = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going"]
    done = subprocess.run(
        [*sphinx, "-d", str(folder / "cache"), str(ROOT / "docs"), str(folder / "html")],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    return folder / "html", done


def test_the_docs_build_without_a_warning(built):
    html, done = built
    assert done.returncode == 0, done.stderr
    for page in (ROOT / "docs").glob("*.md"):
        assert (html / f"{page.stem}.html").is_file()


def test_pages_fetch_nothing(built):
    """A reader without a network sees them whole."""
    fetching = [
        f"{page.name}: {found.group()}"
        for page in built[0].glob("*.html")
        for found in FETCHES.finditer(page.read_text(encoding="utf-8"))
    ]
    assert fetching == []


def test_every_public_name_is_on_the_page_of_the_api(built):
    page = (built[0] / "api.html").read_text(encoding="utf-8")
    names = {*forestcycle.__all__} - {"__version__"}
    assert [name for name in sorted(names) if f'id="forestcycle.{name}"' not in page] == []
    for error in FaultList.__subclasses__():
        assert f'id="forestcycle.errors.{error.__name__}"' in page
