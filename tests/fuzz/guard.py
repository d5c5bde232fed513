"""What no case may do: write elsewhere, leave a cell that runs, end without a word."""

import csv
import hashlib
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.fuzz.case import Case

CODES = {0: "done", 2: "refused", 130: "interrupted"}
RUNS = re.compile(r"[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
"""OWASP, "CSV Injection": beginnings of a cell that spreadsheets take for a formula."""
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
"""Microsoft, "Naming Files, Paths, and Namespaces": names that are devices."""
LIBRARY_WARNING = re.compile(r"\.py:\d+: \w*Warning:")
csv.field_size_limit(1 << 30)
FORBIDDEN = set('<>:"|?*\\')


class Watch:
    """Listens to every file that Python itself changes (PEP 578)."""

    def __init__(self, scratch: Path) -> None:
        self.scratch = scratch.resolve()
        self.folder: Path | None = None
        self.elsewhere: list[str] = []
        sys.addaudithook(self._hear)

    @contextmanager
    def over(self, folder: Path) -> Iterator[list[str]]:
        """Note what is written outside a folder while the body runs."""
        self.elsewhere = []
        self.folder = folder.resolve()
        try:
            yield self.elsewhere
        finally:
            self.folder = None

    def _hear(self, event: str, arguments: tuple[Any, ...]) -> None:
        if self.folder is None:
            return
        for path in self._changed(event, arguments):
            full = os.path.abspath(os.fsdecode(path))  # noqa: PTH100 - a hook must be quick
            own = (f"{self.folder}{os.sep}", f"{self.scratch}{os.sep}", "/proc/", "/dev/")
            if not f"{full}{os.sep}".startswith(own) and "__pycache__" not in full:
                self.elsewhere.append(f"{event} {full}")

    @staticmethod
    def _changed(event: str, arguments: tuple[Any, ...]) -> list[Any]:
        if event == "open":
            path, _, flags = arguments
            writes = flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            return [path] if writes and isinstance(path, str | bytes) else []
        if event in ("os.mkdir", "os.remove", "os.rmdir", "os.truncate", "shutil.rmtree"):
            return [path for path in arguments[:1] if isinstance(path, str | bytes | os.PathLike)]
        if event in ("os.rename", "os.link", "os.symlink", "shutil.move", "shutil.copyfile"):
            return [arguments[1]]
        return []


def state_of(folder: Path) -> dict[str, str]:
    """Name and content of every file in a folder."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def faults_after(
    case: Case, folder: Path, before: dict[str, str], code: int, said: str
) -> list[str]:
    """List every promise that the command broke.

    Parameters
    ----------
    case : Case
    folder : Path
        In which it ran.
    before : dict
        ``state_of`` that folder before.
    code : int
    said : str

    Returns
    -------
    list of str
    """
    faults = [] if code in CODES else [f"exit code {code}"]
    if "Traceback" in said:
        faults.append("a traceback")
    if LIBRARY_WARNING.search(said):
        faults.append("a library's warning, in its own words")
    if code == 2 and not said.strip():
        faults.append("refused without a word")
    after = state_of(folder)
    changed = {name for name in {*before, *after} if before.get(name) != after.get(name)}
    changed -= {name for name in case.named if name not in before}
    faults += [
        f"changed {name!r}" for name in sorted(changed) if not name.startswith(case.may_write)
    ]
    copies = {name for name in after if after[name] in before.values()}
    for name in sorted(changed & set(after) - copies):
        faults += _bad_name(name)
        if name.endswith(".csv"):
            faults += running_cells(folder / name)
    return faults


def _bad_name(name: str) -> list[str]:
    parts = Path(name).parts
    bad = [
        part
        for part in parts
        if DEVICES.fullmatch(part)
        or part.endswith((".", " "))
        or FORBIDDEN & set(part)
        or len(part.encode()) > 255
        or min(part) < " "
    ]
    return [f"a file named {name!r}"] if bad else []


def running_cells(path: Path) -> list[str]:
    """List the first cell of a file that a spreadsheet would run."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        for row in csv.reader(stream):
            for cell in row:
                if RUNS.match(cell) and not NUMBER.fullmatch(cell):
                    return [f"a cell that runs in {path.name}: {cell[:60]!r}"]
    return []
