"""A real browser without a network, for looking at pages as people do."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, Request, sync_playwright

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
QUIET = str.split(
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
)
PHONE = {"width": 390, "height": 844}
TABLET = {"width": 1024, "height": 768}
DESKTOP = {"width": 1440, "height": 900}


@contextmanager
def browsing(size: dict[str, int], **options: Any) -> Iterator[Page]:
    """A page of an offline browser of a given size."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        context = browser.new_context(viewport=size, offline=True, **options)
        try:
            yield context.new_page()
        finally:
            context.close()
            browser.close()


AXE = Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js"
SERIOUS = ("serious", "critical")


class OfflinePage:
    """A page opened from a file, with everything that it asked for or complained of.

    Parameters
    ----------
    browser : Browser
    path : Path
        The file.
    size : dict
        ``width`` and ``height`` of the window.
    fragment : str
        What stands after ``#``.
    before : str
        JavaScript to run before the page's own.
    """

    def __init__(
        self,
        browser: Browser,
        path: Path,
        *,
        size: dict[str, int] = DESKTOP,
        fragment: str = "",
        before: str = "",
    ) -> None:
        self._context = browser.new_context(viewport=size, offline=True, has_touch=size == PHONE)
        self.page = self._context.new_page()
        self.asked: list[str] = []
        self.complaints: list[str] = []
        self.address = path.resolve().as_uri()
        self.page.on("request", self._note_request)
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        if before:
            self.page.add_init_script(before)
        self.page.goto(self.address + (f"#{fragment}" if fragment else ""))
        self.page.wait_for_selector("#loading", state="detached")

    def _note_request(self, request: Request) -> None:
        if request.url.split("#")[0] != self.address:
            self.asked.append(request.url)

    def faults(self) -> list[str]:
        """Serious accessibility faults, as axe-core finds them (WCAG 2 and good practice)."""
        self.page.evaluate(AXE.read_text(encoding="utf-8"))
        found = self.page.evaluate("axe.run()")
        return [
            f"{fault['id']}: {fault['nodes'][0]['html'][:200]}"
            for fault in found["violations"]
            if fault["impact"] in SERIOUS
        ]

    def close(self) -> None:
        """Close it, and hold it to silence."""
        title = self.page.title()
        self._context.close()
        assert self.asked == []
        assert self.complaints == []
        assert title != "harmed"
