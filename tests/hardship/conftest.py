"""One town for all hardships."""

from pathlib import Path

import pytest

from tests.cli.commands import run
from tests.hardship.town import PREPARATIONS, add_notes, write_town


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hardship") / "template"
    write_town(folder)
    for words in PREPARATIONS:
        done = run(*words, cwd=folder)
        assert done.code == 0, done.said
    add_notes(folder)
    return folder
