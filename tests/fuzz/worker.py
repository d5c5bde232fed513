"""Run cases in processes of their own, which may be ended when they hang or eat memory."""

import faulthandler
import multiprocessing
import os
import re
import resource
import signal
import tempfile
import time
import traceback
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from queue import SimpleQueue

from tests.cli.commands import run
from tests.fuzz.case import Case, prepare
from tests.fuzz.ground import Ground
from tests.fuzz.guard import Watch, faults_after, state_of

MOST_SECONDS = 10.0
"""Of one processor."""
MOST_SECONDS_BY_CLOCK = 300.0
"""For those that sleep; generous, because the machine may be busy with other work."""
MOST_MEMORY = 2 << 30
"""Resident bytes of a process, at its highest during the case."""
ADDRESS_SPACE = 24 << 30
"""Libraries reserve far more than they use; this stops a runaway before the machine does."""
ESCAPED = Path("/var/escaped")
"""A name that cases give in full; nobody else does."""
TICKS = os.sysconf("SC_CLK_TCK")
STACKS = "stacks"
"""File in a worker's folder that tells where it hung."""


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
    ground: Ground,
    folder: Path,
    seed: int,
    numbers: Iterable[int],
    *,
    only: str | None = None,
    processes: int = 1,
) -> Iterator[Result]:
    """Run cases, each in a process and a folder that no other case uses meanwhile.

    Parameters
    ----------
    ground : Ground
    folder : Path
        To work in.
    seed : int
    numbers : iterable of int
    only : str, optional
        Spoil files of this kind alone.
    processes : int, optional
        Cases at once; what comes of a case does not depend on it.

    Yields
    ------
    Result
        In the order in which the cases end.
    """
    servers = [_Server(ground, folder / str(place), seed, only) for place in range(processes)]
    idle: SimpleQueue[_Server] = SimpleQueue()
    for server in servers:
        idle.put(server)

    def run_one(number: int) -> Result:
        server = idle.get()
        try:
            return server.run(number)
        finally:
            idle.put(server)

    pool = ThreadPoolExecutor(processes)
    try:
        for ended in as_completed([pool.submit(run_one, number) for number in numbers]):
            yield ended.result()
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
        for server in servers:
            server.stop()


class _Server:
    """A process that runs cases, and the next one after its death."""

    def __init__(self, ground: Ground, folder: Path, seed: int, only: str | None) -> None:
        self._words = (ground, folder, seed, only)
        self._process: BaseProcess | None = None
        self._ours: Connection | None = None

    def run(self, number: int) -> Result:
        """Run one case."""
        if self._process is None or self._ours is None:
            self._process, self._ours = self._start()
        self._ours.send(number)
        stacks = self._words[1] / STACKS
        result = _await(self._ours, self._process.pid or 0, number, stacks)
        if result.code == -1:
            self.stop()
        return result

    def _start(self) -> tuple[BaseProcess, Connection]:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs, *self._words))
        process.start()
        theirs.close()
        ours.recv()  # imports done
        return process, ours

    def stop(self) -> None:
        """Kill the process and those it has started."""
        if self._process is None:
            return
        with suppress(ProcessLookupError):
            os.killpg(self._process.pid or 0, signal.SIGKILL)
        self._process.join()
        self._process = None


def _await(ours: Connection, pid: int, number: int, stacks: Path) -> Result:
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
                _where(pid, stacks),
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


def _where(pid: int, stacks: Path) -> str:
    """Ask a process where each of its threads is."""
    with suppress(ProcessLookupError):
        os.kill(pid, signal.SIGUSR1)
        time.sleep(1)
    return stacks.read_text()


def _processor_seconds(pid: int) -> float:
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / TICKS


def _serve(theirs: Connection, ground: Ground, folder: Path, seed: int, only: str | None) -> None:
    import forestcycle.cycle
    import forestcycle.publish  # noqa: F401 - so that the first case is no slower

    os.setpgrp()
    os.environ["FORESTCYCLE_TRACEBACK"] = ""
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    scratch = folder / "scratch"
    scratch.mkdir(parents=True, exist_ok=True)
    os.environ["TMPDIR"] = tempfile.tempdir = str(scratch)
    watch = Watch(scratch)
    stacks = (folder / STACKS).open("w")
    faulthandler.register(signal.SIGUSR1, stacks)
    theirs.send("ready")
    while True:
        try:
            number = theirs.recv()
        except EOFError:
            return
        place = folder / "above" / "higher" / "city"  # names lead up to three folders out of it
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
    faults += [f"left {path}" for path in ESCAPED.parent.glob(f"{ESCAPED.name}*")]
    return Result(
        number, case.kind, _typed(case), code, seconds, memory, tuple(faults), said[-600:]
    )


def _highest_memory() -> int:
    """Of this process during the case, or of any child until now."""
    found = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())
    own = int(found[1]) if found else 0
    return max(own, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) * 1024
