"""Make the pictures of the docs from a real plan: ``python -m tests.tools.make_pictures``."""

import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

import forestcycle.cycle

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking"]
SIZE = {"width": 1200, "height": 760}


def main() -> None:
    """Plan the sample city and photograph a day's map and the city's."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        forestcycle.cycle.run_demo(folder, time_limit=40)
        maps = Path(folder) / "plan" / "maps"
        day = sorted((maps / "crews").glob("Ground crew*.html"))[0]
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            page = browser.new_context(viewport=SIZE, offline=True).new_page()
            for name, path in (("day", day), ("city", maps / "city.html")):
                page.goto(path.as_uri())
                page.wait_for_timeout(1500)
                page.screenshot(path=PICTURES / f"{name}.png")
            browser.close()


if __name__ == "__main__":
    main()
