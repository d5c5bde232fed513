"""Run commands as a user would, most of them without the cost of a new process."""

import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from forestcycle.cli.main import main


@dataclass(frozen=True)
class Ended:
    """How a command ended and what it said."""

    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        return self.out + self.err

    @property
    def complaints(self) -> list[str]:
        """Lines on standard error that are no progress."""
        return [line for line in self.err.splitlines() if " -> " in line or ": " in line]


class Commands:
    """The command line, run in a folder."""

    def __init__(self, capture: pytest.CaptureFixture[str], patch: pytest.MonkeyPatch) -> None:
        self._capture, self._patch = capture, patch

    def __call__(self, *words: object, cwd: Path) -> Ended:
        self._patch.chdir(cwd)
        self._capture.readouterr()
        code = 0
        try:
            main([str(word) for word in words])
        except SystemExit as end:
            code = int(end.code or 0)
        said = self._capture.readouterr()
        return Ended(code, said.out, said.err)


def start(*words: object, cwd: Path) -> subprocess.Popen[str]:
    """Start a command as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "forestcycle", *map(str, words)],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
