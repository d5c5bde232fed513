"""Run commands as a user would, most of them without the cost of a new process."""

import io
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

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


def run(*words: object, cwd: Path) -> Ended:
    """Run a command in this process: ``run("plan", "cycle.toml", cwd=folder)``."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    with chdir(cwd), redirect_stdout(out), redirect_stderr(err):
        try:
            main([str(word) for word in words])
        except SystemExit as end:
            code = int(end.code or 0)
    return Ended(code, out.getvalue(), err.getvalue())


def start(*words: object, cwd: Path) -> subprocess.Popen[str]:
    """Start a command as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "forestcycle", *map(str, words)],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
