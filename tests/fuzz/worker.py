"""Run cases in a process of its own, which may be ended when it hangs or eats memory."""

import multiprocessing
import os
import re
import resource
import time
import traceback
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from tests.cli.commands import run
from tests.fuzz.case import Case, prepare
from tests.fuzz.ground import Ground
from tests.fuzz.guard import Watch, faults_after, state_of

MOST_SECONDS = 10.0
"""Of one processor."""
MOST_SECONDS_BY_CLOCK = 300.0
"""For those that sleep; generous, because the machine may be busy with other work."""
MOST_MEMORY = 2 << 30
"""Resident bytes of the process, at its highest during the case."""
ADDRESS_SPACE = 24 << 30
"""Libraries reserve far more than they use; this stops a runaway before the machine does."""
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Result:
    """How one case ended.

    Attributes
    ----------
    number : int
    kind : str
    words : str
        The command, as typed.
    code : int
        Exit code; -1 if the process was ended or died.
    seconds : float
        Of processor time.
    memory : int
        Highest resident bytes.
    faults : tuple of str
        Promises broken; empty if none.
    said : str
        The end of what the command said.
    """

    number: int
    kind: str
    words: str
    code: int
    seconds: float
    memory: int
    faults: tuple[str, ...]
    said: str


def run_cases(
    ground: Ground, folder: Path, seed: int, numbers: Iterable[int], *, only: str | None = None
) -> Iterator[Result]:
    """Run cases one after the other, in a new process after every death.

    Parameters
    ----------
    ground : Ground
    folder : Path
        To work in.
    seed : int
    numbers : iterable of int
    only : str, optional
        Spoil files of this kind alone.

    Yields
    ------
    Result
    """
    context = multiprocessing.get_context("spawn")
    process, ours = None, None
    try:
        for number in numbers:
            if process is None or ours is None:
                ours, theirs = context.Pipe()
                process = context.Process(
                    target=_serve, args=(theirs, ground, folder, seed, only), daemon=True
                )
                process.start()
                theirs.close()
                ours.recv()  # imports done
            ours.send(number)
            result = _await(ours, process.pid or 0, number)
            if result.code == -1:
                process.kill()
                process.join()
                process = None
            yield result
    finally:
        if process is not None:
            process.kill()
            process.join()


def _await(ours: Connection, pid: int, number: int) -> Result:
    started, used = time.monotonic(), _processor_seconds(pid)
    words = ("?", "?")
    while True:
        spent = _processor_seconds(pid) - used
        clock = time.monotonic() - started
        if spent > MOST_SECONDS or clock > MOST_SECONDS_BY_CLOCK:
            return Result(
                number,
                *words,
                -1,
                spent,
                0,
                (f"hangs after {spent:.0f} s of processor time, {clock:.0f} s in all",),
                "",
            )
        if not ours.poll(0.25):
            continue
        try:
            told = ours.recv()
        except (EOFError, OSError):
            return Result(number, *words, -1, spent, 0, ("the process died",), "")
        if isinstance(told, Result):
            return told
        words, started, used = told, time.monotonic(), _processor_seconds(pid)


def _processor_seconds(pid: int) -> float:
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / TICKS


def _serve(theirs: Connection, ground: Ground, folder: Path, seed: int, only: str | None) -> None:
    import forestcycle.cycle
    import forestcycle.publish  # noqa: F401 - so that the first case is no slower

    os.environ["FORESTCYCLE_TRACEBACK"] = ""
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    watch = Watch()
    theirs.send("ready")
    while True:
        number = theirs.recv()
        place = folder / "above" / "city"
        case = prepare(ground, place, seed, number, only)
        theirs.send((case.kind, _typed(case)))
        theirs.send(_run(case, number, place, folder, watch))


def _typed(case: Case) -> str:
    return " ".join(str(word) for word in case.words)


def _run(case: Case, number: int, place: Path, folder: Path, watch: Watch) -> Result:
    """Run one case and hold it to every promise."""
    before = state_of(place)
    around = sorted(str(path) for path in folder.rglob("*") if not path.is_relative_to(place))
    Path("/proc/self/clear_refs").write_text("5")  # forget the highest memory so far
    used = time.process_time()
    with watch.over(place) as elsewhere:
        try:
            ended = run(*case.words, cwd=place)
            code, said = ended.code, ended.said
        except Exception:  # noqa: BLE001 - to be reported
            code, said = 1, traceback.format_exc()
    seconds, memory = time.process_time() - used, _highest_memory()
    faults = faults_after(case, place, before, code, said) + [f"elsewhere: {e}" for e in elsewhere]
    if seconds > MOST_SECONDS:
        faults.append(f"{seconds:.1f} s of processor time")
    if memory > MOST_MEMORY:
        faults.append(f"{memory / (1 << 30):.2f} GiB of memory")
    if around != sorted(str(p) for p in folder.rglob("*") if not p.is_relative_to(place)):
        faults.append("left files outside the city's folder")
    return Result(
        number, case.kind, _typed(case), code, seconds, memory, tuple(faults), said[-600:]
    )


def _highest_memory() -> int:
    found = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())
    return int(found[1]) * 1024 if found else 0
