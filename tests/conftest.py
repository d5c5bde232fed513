"""Fixtures that every room's tests share."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.publish.browser import CHROMIUM, QUIET

ROOT = Path(__file__).resolve().parent.parent

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # Started in the background of a shell, Ctrl-C is ignored, and so by every command
    # that a test interrupts.
    signal.signal(signal.SIGINT, signal.default_int_handler)


def in_ci() -> bool:
    """Whether a missing tool or data set is a failure rather than a reason to skip."""
    return os.environ.get("CI", "").lower() in {"1", "true"}


def skip_or_fail(reason: str) -> None:
    """Skip with a reason on a contributor's machine; fail in CI."""
    if in_ci():
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Third-party data beside the checkout: trees, growth equations, benchmarks."""
    folder = ROOT.parent / "shared" / "data"
    if not folder.is_dir():
        skip_or_fail(f"needs the third-party data folder {folder}")
    return folder


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One real browser for the whole run."""
    if not Path(CHROMIUM).exists():
        skip_or_fail("needs Debian's package chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()
