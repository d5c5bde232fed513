"""Version, help, completion and exit codes: what scripts and shells rely on."""

import os
import signal
import subprocess
import sys
from importlib.metadata import version

import pytest

from forestcycle.cli import main as program
from forestcycle.cli.exit_codes import BAD_INPUT, DONE, INTERRUPTED, MEANINGS, OWN_FAULT
from tests.cli.commands import run


def test_version(tmp_path):
    ended = run("--version", cwd=tmp_path)
    assert ended.code == DONE
    assert ended.out.split()[-1] == version("forestcycle")


def test_help_lists_every_exit_code(tmp_path):
    ended = run("--help", cwd=tmp_path)
    assert ended.code == DONE
    for code, meaning in MEANINGS.items():
        assert f"{code:<4} {meaning}" in ended.out


def test_the_interrupt_code_is_the_shells():
    """POSIX shells report 128 + the signal's number."""
    assert INTERRUPTED == 128 + signal.SIGINT


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (RuntimeError("broken"), OWN_FAULT),
        (MemoryError(), BAD_INPUT),
        (KeyboardInterrupt(), INTERRUPTED),
    ],
)
def test_whatever_happens_ends_in_a_code_and_no_traceback(tmp_path, monkeypatch, error, code):
    def fails():
        raise error

    monkeypatch.setattr(program.commands.commands["demo"], "callback", lambda **_: fails())
    ended = run("demo", "demo", cwd=tmp_path)
    assert ended.code == code
    assert "Traceback" not in ended.said
    assert len(ended.err.strip().splitlines()) == 1


def test_bad_words_are_bad_input(tmp_path):
    """The same code as click's own for wrong usage."""
    assert run("plan", "cycle.toml", cwd=tmp_path).code == BAD_INPUT
    assert run("assess", "nowhere.toml", cwd=tmp_path).code == BAD_INPUT


@pytest.mark.parametrize(
    ("words", "offered"),
    [("pu", "publish"), ("plan --time", "--time-limit"), ("inspect --la", "--layer")],
)
def test_the_shell_completes_commands_and_options(words, offered):
    done = subprocess.run(
        [sys.executable, "-c", "from forestcycle.cli.main import main; main()"],
        env={
            **os.environ,
            "_FORESTCYCLE_COMPLETE": "bash_complete",
            "COMP_WORDS": f"forestcycle {words}",
            "COMP_CWORD": str(len(words.split())),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    assert offered in done.stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_has_a_script(shell):
    done = subprocess.run(
        [sys.executable, "-c", "from forestcycle.cli.main import main; main()"],
        env={**os.environ, "_FORESTCYCLE_COMPLETE": f"{shell}_source"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "forestcycle" in done.stdout
