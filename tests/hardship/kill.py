"""Kill real commands, again and again: ``python -m tests.hardship.kill --random 300``.

One process has everything imported and forks; each child runs a command as the
command line would and is killed, by itself at its n-th step that touches files
(as Python's audit events tell), or from outside after some time. After each
kill the files are checked, the lock that the dead process left is removed as
its message says, and the command must run through.
"""

import argparse
import contextlib
import json
import os
import random
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from forestcycle.cli.main import main as command_line
from tests.hardship.town import (
    COMMANDS,
    LOCK,
    PREPARATIONS,
    add_notes,
    check,
    copy_town,
    write_town,
)

STEPS = frozenset(
    {"open", "os.rename", "os.remove", "os.link", "os.mkdir", "os.rmdir", "shutil.rmtree"}
    | {"sqlite3.connect", "os.chmod", "ctypes.call_function", "shutil.copytree", "shutil.copyfile"}
)
NEVER = 0
WRITING_FLAGS = os.O_WRONLY | os.O_RDWR | os.O_CREAT


def run_command(words: tuple[str, ...], folder: Path, *, kill_at: int | None = None) -> int:
    """Fork and run a command; return the child's process id."""
    child = os.fork()
    if child:
        return child
    os.chdir(folder)
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 1)
    with folder.with_name("said.txt").open("w") as said:
        os.dup2(said.fileno(), 2)
    code = 1
    try:
        counted = None if kill_at is None else _kill_at_step(kill_at)
        code = _code_of(words)
        if counted is not None:
            folder.with_name("steps.txt").write_text(str(counted()))
    except BaseException:  # noqa: BLE001 - a child of fork never returns
        traceback.print_exc()
    finally:
        os._exit(code)


def _kill_at_step(step: int) -> Callable[[], int]:
    """Arm the kill; what is returned tells how many steps there have been."""
    seen = 0

    def count(event: str, arguments: tuple[object, ...]) -> None:
        nonlocal seen
        if event not in STEPS or (event == "open" and not _writes(arguments)):
            return
        seen += 1
        if seen == step:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(count)
    return lambda: seen


def _writes(arguments: tuple[object, ...]) -> bool:
    flags = arguments[2]
    return isinstance(flags, int) and bool(flags & WRITING_FLAGS)


def _code_of(words: tuple[str, ...]) -> int:
    try:
        command_line(words)
    except SystemExit as end:
        return int(end.code or 0)
    return 0


def wait_for(child: int) -> int:
    """Return the exit code, negative for the signal that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def complete(words: tuple[str, ...], folder: Path) -> float:
    """Run a command that must succeed; return its seconds."""
    started = time.monotonic()
    code = wait_for(run_command(words, folder))
    assert code == 0, (words, code, folder.with_name("said.txt").read_text())
    return time.monotonic() - started


class Trials:
    """Kills of one command, each on a fresh copy of the town."""

    def __init__(self, command: str, home: Path, chance: random.Random) -> None:
        self.command, self.words, self.chance = command, COMMANDS[command], chance
        self.template, self.folder = home / "template", home / "town"
        self.counts: Counter[str] = Counter()

    def at_steps(self, most: int) -> None:
        """Kill at the first, second, ... step; at a sample of them where they are more."""
        steps = self._count_steps()
        self.counts["steps"] = steps
        chosen = range(1, steps + 1)
        for step in chosen if steps <= most else sorted(self.chance.sample(chosen, most)):
            copy_town(self.template, self.folder)
            self._judge(wait_for(run_command(self.words, self.folder, kill_at=step)), again=False)

    def at_random(self, kills: int) -> None:
        """Kill at moments spread evenly over the command's time."""
        copy_town(self.template, self.folder)
        seconds = complete(self.words, self.folder)
        for number in range(kills):
            copy_town(self.template, self.folder)
            child = run_command(self.words, self.folder)
            time.sleep(self.chance.uniform(0, seconds))
            with contextlib.suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            self._judge(wait_for(child), again=number == 0)

    def _count_steps(self) -> int:
        copy_town(self.template, self.folder)
        code = wait_for(run_command(self.words, self.folder, kill_at=NEVER))
        self._judge(code, again=False)
        return int(self.folder.with_name("steps.txt").read_text())

    def _judge(self, code: int, *, again: bool) -> None:
        assert code in (0, -signal.SIGKILL), (
            self.command,
            self.folder.with_name("said.txt").read_text(),
        )
        found = check(self.folder, self.template, self.command)
        self.counts["killed" if code else "survived"] += 1
        if code == 0:
            assert found == "new"
        else:
            self.counts[found] += 1
        if again and (code != 0 and found == "old"):
            (self.folder / LOCK).unlink(missing_ok=True)
            complete(self.words, self.folder)
            assert check(self.folder, self.template, self.command) == "new"


def kill_commands(commands: list[str], *, steps: int, kills: int, seed: int) -> dict[str, object]:
    """Prepare a town and kill every command; return counts by command."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        write_town(home / "template")
        for words in PREPARATIONS:
            complete(words, home / "template")
        add_notes(home / "template")
        found: dict[str, object] = {}
        for command in commands:
            trials = Trials(command, home, chance)
            if steps:
                trials.at_steps(steps)
            if kills:
                trials.at_random(kills)
            found[command] = dict(trials.counts)
            print(f"{command}: {dict(trials.counts)}", file=sys.stderr, flush=True)
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--commands", nargs="+", default=list(COMMANDS), choices=list(COMMANDS))
    parser.add_argument("--steps", type=int, default=1_000, help="most kills at a step")
    parser.add_argument("--random", type=int, default=100, help="kills at a random moment")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()

    result = kill_commands(given.commands, steps=given.steps, kills=given.random, seed=given.seed)
    print(json.dumps(result))
