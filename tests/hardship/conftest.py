"""One town for all hardships."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.commands import run
from tests.hardship.town import COMMANDS, PREPARATIONS, add_notes, copy_town, write_town


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hardship") / "template"
    write_town(folder)
    _follow(PREPARATIONS, folder)
    add_notes(folder)
    return folder


@pytest.fixture(scope="session")
def ready_for(template: Path) -> Callable[[str], Path]:
    """Give the town as it is before a command."""
    made: dict[tuple[tuple[str, ...], ...], Path] = {(): template}

    def town(command: str) -> Path:
        first = COMMANDS[command].first
        if first not in made:
            made[first] = template.with_name(f"ready for {command}")
            copy_town(template, made[first])
            _follow(first, made[first])
        return made[first]

    return town


def _follow(commands: tuple[tuple[str, ...], ...], folder: Path) -> None:
    for words in commands:
        done = run(*words, cwd=folder)
        assert done.code == 0, done.said
