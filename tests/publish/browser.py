"""A real browser without a network, for looking at pages as people do."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Page, sync_playwright

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
