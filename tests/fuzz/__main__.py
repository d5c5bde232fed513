"""Run as many cases as asked for, and print what came of them."""

import argparse
import json
import os
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.fuzz.case import KINDS
from tests.fuzz.ground import make_ground
from tests.fuzz.worker import Result, run_cases


def main() -> None:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--only", type=int, help="run this one case and show what it said")
    parser.add_argument("--kind", choices=KINDS, help="spoil files of this kind alone")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1, help="cases at once")
    parser.add_argument("--nice", type=int, default=10)
    parser.add_argument("--sound", type=Path, help="keep the sound files here for the next run")
    parser.add_argument("--json", type=Path, help="write the figures here")
    parser.add_argument(
        "--log", type=Path, help="keep a line per case here; cases that are there are not run again"
    )
    asked = parser.parse_args()
    os.nice(asked.nice)
    first, count = (asked.first, asked.count) if asked.only is None else (asked.only, 1)
    wanted = range(first, first + count)
    known = [result for result in _read_log(asked.log) if result.number in wanted]
    missing = sorted(set(wanted) - {result.number for result in known})
    started = time.monotonic()
    results = sorted([*known, *_run(asked, missing)], key=lambda result: result.number)
    figures = figures_of(results, time.monotonic() - started)
    print(json.dumps(figures | {"broken": len(figures["broken"])}, indent=2))
    if asked.json:
        asked.json.write_text(json.dumps(figures, indent=2))


def _run(asked: argparse.Namespace, numbers: list[int]) -> Iterator[Result]:
    """Run cases and tell of each as it ends; Ctrl-C ends them early."""
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder, suppress(KeyboardInterrupt):
        ground = make_ground(asked.sound or Path(folder, "sound"))
        options = {"only": asked.kind, "processes": asked.processes}
        cases = run_cases(ground, Path(folder, "work"), asked.seed, numbers, **options)
        for done, result in enumerate(cases, start=1):
            if asked.log:
                with asked.log.open("a") as log:
                    log.write(json.dumps(asdict(result)) + "\n")
            if result.faults or asked.only is not None:
                print(_in_words(result), flush=True)
            if done % 100 == 0:
                print(f"{done:,} cases, {time.monotonic() - started:.0f} s", flush=True)
            yield result


def _read_log(path: Path | None) -> list[Result]:
    if path is None or not path.exists():
        return []
    lines = (json.loads(line) for line in path.read_text().splitlines())
    return [Result(**line | {"faults": tuple(line["faults"])}) for line in lines]


def figures_of(results: list[Result], seconds: float) -> dict[str, Any]:
    """Count results by what was spoilt and how the command ended."""
    broken = [asdict(result) for result in results if result.faults]
    return {
        "cases": len(results),
        "seconds": round(seconds),
        "by_kind": dict(Counter(result.kind for result in results)),
        "by_command": dict(Counter(result.words.split()[0] for result in results)),
        "by_exit_code": {str(c): n for c, n in Counter(r.code for r in results).items()},
        "longest_processor_seconds": round(max(r.seconds for r in results), 2),
        "highest_memory_mib": max(r.memory for r in results) >> 20,
        "broken": broken,
    }


def _in_words(result: Result) -> str:
    head = f"case {result.number} ({result.kind}): {result.words} -> {result.code}"
    return "\n".join([head, *(f"  {fault}" for fault in result.faults), f"  {result.said.strip()}"])


if __name__ == "__main__":
    main()
