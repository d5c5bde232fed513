"""Time and memory of inspecting and assessing a whole city, each in a process of its own.

``python -m tests.benchmarks.assess [--trees N] [--seed N] [--folder DIR] [--json FILE]``
"""

import argparse
import json
import platform
import resource
import subprocess
import sys
import tempfile
import time
from importlib.metadata import version
from pathlib import Path

import sample_city
from forestcycle.progress import Step

PACKAGES = ("numpy", "pandas", "geopandas", "pyogrio", "shapely", "numba")
KIB_PER_MIB = 1024


class Stages:
    """Seconds between one report of progress and the next, by stage."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._stage, self._since = "starting", time.perf_counter()

    def __call__(self, step: Step) -> None:
        now = time.perf_counter()
        before = self.seconds.get(self._stage, 0.0)
        self.seconds[self._stage] = before + now - self._since
        self._stage, self._since = step.stage, now


def inspect(folder: Path, note: Stages) -> dict[str, float]:
    from forestcycle.cycle import inspect_source

    begun = time.perf_counter()
    inspect_source(folder / "city.gpkg", out=folder / "proposed", overwrite=True, progress=note)
    return {"inspect_seconds": time.perf_counter() - begun}


def assess(folder: Path, note: Stages) -> dict[str, float]:
    from forestcycle.cycle import assess_city, open_city, write_assessment

    begun = time.perf_counter()
    city = open_city(folder / "cycle.toml", progress=note)
    opened = time.perf_counter()
    assessment = assess_city(city, progress=note)
    assessed = time.perf_counter()
    note(Step("writing assessment.gpkg"))
    write_assessment(city, assessment, folder / "assessment.gpkg")
    return {
        "usable_trees": len(city.inventory.trees),
        "visits": len(city.inventory.visits),
        "defects": len(city.inventory.defects),
        "open_seconds": opened - begun,
        "assess_seconds": assessed - opened,
        "write_seconds": time.perf_counter() - assessed,
    }


def child(job: str, folder: Path) -> None:
    note = Stages()
    figures = (inspect if job == "inspect" else assess)(folder, note)
    note(Step("done"))
    figures["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MIB
    print(json.dumps({"figures": figures, "stages": note.seconds}))


def in_fresh_process(job: str, folder: Path) -> dict[str, dict[str, float]]:
    words = [sys.executable, "-m", "tests.benchmarks.assess", "--job", job, "--folder", str(folder)]
    done = subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True)
    return dict(json.loads(done.stdout))


def measure(trees: int, seed: int, folder: Path) -> dict[str, object]:
    begun = time.perf_counter()
    sample_city.make(folder, trees=trees, seed=seed)
    return {
        "trees": trees,
        "seed": seed,
        "make_city_seconds": time.perf_counter() - begun,
        "inspect": in_fresh_process("inspect", folder),
        "assess": in_fresh_process("assess", folder),
        "machine": f"{platform.machine()}, Python {platform.python_version()}",
        "versions": {name: version(name) for name in PACKAGES},
    }


def show(result: dict[str, object], indent: str = "") -> None:
    for name, value in result.items():
        if isinstance(value, dict):
            print(f"{indent}{name}")
            show(value, indent + "  ")
        else:
            text = f"{value:,.1f}" if isinstance(value, float) else str(value)
            print(f"{indent}{name:<{40 - len(indent)}} {text:>14}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="keep the city here")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--job", choices=("inspect", "assess"), help=argparse.SUPPRESS)
    wanted = parser.parse_args()
    if wanted.job:
        child(wanted.job, wanted.folder)
        return
    with tempfile.TemporaryDirectory() as scratch:
        result = measure(wanted.trees, wanted.seed, wanted.folder or Path(scratch))
    show(result)
    if wanted.json:
        wanted.json.write_text(json.dumps(result, indent=2) + "\n")


if __name__ == "__main__":
    main()
