"""Fixtures of the command line's tests."""

import pytest

from tests.cli.commands import Commands


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Commands:
    """Run a command in this process: ``run("plan", "cycle.toml", cwd=folder)``."""
    return Commands(capsys, monkeypatch)
