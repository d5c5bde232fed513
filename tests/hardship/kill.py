"""Kill real commands, again and again: ``python -m tests.hardship.kill --random 300``.

One process has everything imported and forks; each child runs a command as the
command line would and is killed, by itself at its n-th step that touches files
(as Python's audit events tell) or speak to the database, or from outside after
some time. After each kill the files are checked; after every tenth the command is
given again and must run through, whether the dead process left a lock or not.
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
from typing import Any

import psycopg

import forestcycle.cycle.send
import forestcycle.publish.publishing  # noqa: F401 - so that a child need not
from forestcycle.cli.main import main as command_line
from forestcycle.schedule.cluster import warm_up
from tests.hardship.results import RESULTS
from tests.hardship.sending import SEND, sending_town
from tests.hardship.town import (
    COMMANDS,
    PREPARATIONS,
    Deed,
    add_notes,
    check,
    copy_town,
    write_town,
)

DATABASE_STEP = "forestcycle.tests.database"
STEPS = frozenset(
    {"open", "os.rename", "os.remove", "os.link", "os.mkdir", "os.rmdir", "shutil.rmtree"}
    | {
        DATABASE_STEP,
        "sqlite3.connect",
        "os.chmod",
        "ctypes.call_function",
        "shutil.copytree",
        "shutil.copyfile",
    }
)
EVERY = COMMANDS | RESULTS
NEVER = 0
AGAIN_EVERY = 10
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
    for method in (psycopg.Cursor.execute, psycopg.Copy.write_row, psycopg.Connection.commit):
        _count_calls(method, lambda: sys.audit(DATABASE_STEP))
    return lambda: seen


def _count_calls(method: Callable[..., Any], count: Callable[[], None]) -> None:
    """Tell of each call of a method, which does what it did."""
    owner, name = method.__qualname__.split(".")

    def told(*arguments: Any, **options: Any) -> Any:
        count()
        return method(*arguments, **options)

    setattr(getattr(psycopg, owner), name, told)


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
    """Kills of one command, each on a fresh copy of a town that is ready for it."""

    def __init__(self, command: str, deed: Deed, home: Path, chance: random.Random) -> None:
        self.command, self.deed, self.chance = command, deed, chance
        self.template, self.folder = home / "template", home / "town"
        self.counts: Counter[str] = Counter()
        started = time.monotonic()
        self.counts["steps"] = self._count_steps()
        self.seconds = time.monotonic() - started

    def at_steps(self, most: int) -> None:
        """Kill at the first, second, ... step; at a sample of them where they are more."""
        steps = self.counts["steps"]
        chosen = range(1, steps + 1)
        for step in chosen if steps <= most else sorted(self.chance.sample(chosen, most)):
            self._begin()
            self._judge(wait_for(run_command(self.deed.words, self.folder, kill_at=step)))

    def at_random(self, kills: int) -> None:
        """Kill at moments spread evenly over the command's time."""
        seconds = self.seconds
        for _ in range(kills):
            self._begin()
            child = run_command(self.deed.words, self.folder)
            time.sleep(self.chance.uniform(0, seconds))
            with contextlib.suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            self._judge(wait_for(child))

    def _begin(self) -> None:
        copy_town(self.template, self.folder)
        self.deed.begin()

    def _count_steps(self) -> int:
        self._begin()
        self._judge(wait_for(run_command(self.deed.words, self.folder, kill_at=NEVER)))
        return int(self.folder.with_name("steps.txt").read_text())

    def _judge(self, code: int) -> None:
        said = self.folder.with_name("said.txt").read_text()
        assert code in (0, -signal.SIGKILL), (self.command, said)
        found = check(self.folder, self.template, self.deed)
        if code == 0:
            self.counts["survived"] += 1
            assert found == "new"
            return
        self.counts["killed"] += 1
        self.counts[found] += 1
        lock = self.folder / f"{self.deed.locks}.lock"
        self.counts["locks left"] += lock.exists()
        may_run_again = found == "old" or self.deed.words[0] != "undo"
        if may_run_again and self.counts["killed"] % AGAIN_EVERY == 1:
            self._run_through(lock)

    def _run_through(self, lock: Path) -> None:
        """Give the command again; only a lock that does not say whose it is is cleared by hand."""
        if lock.exists() and not lock.read_text():
            self.counts["locks without a name"] += 1
            lock.unlink()
        complete(self.deed.words, self.folder)
        assert not lock.exists()
        assert check(self.folder, self.template, self.deed) == "new"
        self.counts["run through afterwards"] += 1


def prepared_town(home: Path) -> Path:
    """Make a town with books and a plan."""
    home.mkdir(parents=True, exist_ok=True)
    template = home / "template"
    write_town(template)
    for words in PREPARATIONS:
        complete(words, template)
    add_notes(template)
    return template


def kill_commands(commands: list[str], *, steps: int, kills: int, seed: int) -> dict[str, Any]:
    """Prepare a town and kill every command; return counts by command."""
    warm_up()
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        town = prepared_town(Path(name, "all"))
        for number, command in enumerate(commands):
            home = Path(name, str(number))
            home.mkdir()
            copy_town(town, home / "template")
            deed = _deed(command, home / "template", stack)
            for words in deed.first:
                complete(words, home / "template")
            trials = Trials(command, deed, home, random.Random(f"{seed} {command}"))
            if steps:
                trials.at_steps(steps)
            if kills:
                trials.at_random(kills)
            found[command] = dict(trials.counts)
            print(f"{command}: {dict(trials.counts)}", file=sys.stderr, flush=True)
    return found


def _deed(command: str, template: Path, stack: contextlib.ExitStack) -> Deed:
    if command != SEND:
        return EVERY[command]
    return stack.enter_context(sending_town(template)).deed


def totals(found: dict[str, Any]) -> dict[str, int]:
    """Add up the counts of all commands."""
    total: Counter[str] = Counter()
    for counts in found.values():
        total.update(counts)
    return dict(total)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    every = [*EVERY, SEND]
    parser.add_argument("--commands", nargs="+", default=every, choices=every)
    parser.add_argument("--steps", type=int, default=1_000, help="most kills at a step")
    parser.add_argument("--random", type=int, default=100, help="kills at a random moment")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path, help="keep the counts here; what is there is not run")
    given = parser.parse_args()

    known = json.loads(given.json.read_text()) if given.json and given.json.exists() else {}
    known.pop("total", None)
    for command in given.commands:
        if command not in known:
            known |= kill_commands(
                [command], steps=given.steps, kills=given.random, seed=given.seed
            )
        if given.json:
            given.json.write_text(json.dumps(known | {"total": totals(known)}, indent=1))
    print(json.dumps(known | {"total": totals(known)}))
