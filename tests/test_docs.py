"""What a user can type is documented, and the documents are in step with the program."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from forestcycle.cli.main import commands
from tests.conftest import ROOT
from tests.tools.write_command_docs import command_page, settings_page

COMMANDS = sorted(commands.commands)
REWRITE = "run: python -m tests.tools.write_command_docs"


def documents() -> dict[Path, str]:
    paths = [*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")]
    return {path: path.read_text(encoding="utf-8") for path in paths}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    command = commands.commands[name]
    assert command.help
    assert re.search(rf"Examples?:\n\s+forestcycle {name} ", command.help)
    unexplained = [
        option.name
        for option in command.params
        if option.param_type_name == "option" and not getattr(option, "help", None)
    ]
    assert not unexplained


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_readme(name):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"forestcycle {name}" in readme


def test_the_page_of_commands_is_in_step():
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert page == command_page(), REWRITE


def test_the_page_of_settings_is_in_step():
    page = (ROOT / "docs" / "settings.md").read_text(encoding="utf-8")
    assert page == settings_page(), REWRITE


def test_every_key_of_the_settings_says_what_it_means():
    assert [line for line in settings_page().splitlines() if line.endswith("|  |")] == []


def test_links_between_documents_lead_somewhere():
    broken = [
        f"{path.name}: {target}"
        for path, text in documents().items()
        for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text)
        if "://" not in target and not (path.parent / target).exists()
    ]
    assert broken == []


def test_modules_named_in_the_documents_exist():
    named = {
        word
        for text in documents().values()
        for word in re.findall(r"python -m (tests\.\S+?)[`\s]", text)
    }
    paths = {word: ROOT / word.replace(".", "/") for word in named}
    missing = [
        word
        for word, path in paths.items()
        if not (path.with_suffix(".py").exists() or (path / "__main__.py").exists())
    ]
    assert missing == []


def test_help_does_not_wait_for_the_solver():
    """Asking for help imports neither the solver nor the geometry libraries."""
    code = (
        "import sys; from forestcycle.cli.main import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted({'ortools', 'numba', 'pandas', 'geopandas', 'numpy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
