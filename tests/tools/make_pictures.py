"""Make the pictures of the docs from a real plan: ``python -m tests.tools.make_pictures``.

Needs Debian's ``chromium`` and ``poppler-utils``, as the tests do.
"""

import subprocess
import tempfile
from pathlib import Path

from PIL import Image, ImageOps
from playwright.sync_api import Browser, sync_playwright

import forestcycle
import sample_city
from tests.publish.browser import CHROMIUM, QUIET

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
SIZE = {"width": 1200, "height": 760}
PAGE_HEIGHT = 1100
EDGE = "#bbbbbb"
ROUNDS = 12
"""The same plan on a slow or busy machine."""


def photograph(browser: Browser, page_file: Path, picture: Path) -> None:
    """Open a page without a network and take its picture."""
    page = browser.new_context(viewport=SIZE, offline=True).new_page()
    page.goto(page_file.as_uri())
    page.wait_for_timeout(1500)
    page.screenshot(path=picture, type="png")
    page.close()


def print_page(paper: Path, picture: Path) -> None:
    """Draw the first page of a PDF, with an edge around the sheet."""
    stem = picture.with_suffix("")
    size = ["-scale-to-y", str(PAGE_HEIGHT), "-scale-to-x", "-1"]
    subprocess.run(
        ["pdftoppm", "-png", "-singlefile", "-f", "1", *size, str(paper), str(stem)], check=True
    )
    with Image.open(picture) as page:
        ImageOps.expand(page, border=1, fill=EDGE).save(picture)


def main() -> None:
    """Plan the sample city and picture a day's map, the city's, a crew sheet and the report."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        plan = Path(folder) / "plan"
        city = forestcycle.open_city(sample_city.make(Path(folder) / "city"))
        forestcycle.plan_city(city, plan, rounds=ROUNDS)
        day = sorted((plan / "maps" / "crews").glob("Ground crew*.html"))[0]
        sheet = sorted((plan / "sheets" / "Climbing crew").glob("2*.pdf"))[0]
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
            photograph(browser, day, PICTURES / "day.png")
            photograph(browser, plan / "maps" / "city.html", PICTURES / "city.png")
            browser.close()
        print_page(sheet, PICTURES / "sheet.png")
        print_page(plan / "report" / "report.pdf", PICTURES / "report.png")


if __name__ == "__main__":
    main()
