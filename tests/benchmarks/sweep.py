"""Many scenarios of one city planned side by side, and a forecast by number of workers.

``python -m tests.benchmarks.sweep [--trees N] [--scenarios N] [--time-limit SECONDS]
[--workers N] [--forecast N] [--cluster ADDRESS] [--seed N] [--folder DIR] [--json FILE]``

Trees are read and assessed once; workers map one copy of them into memory. The forecast is
what comes before the scenarios, plus one scenario's mean time for every turn of the workers;
``--forecast 50`` makes it for 50 scenarios from fewer that were planned. A second run with another
number of workers says how well it holds.
"""

import argparse
import json
import os
import platform
import resource
import tempfile
import time
from importlib.metadata import version
from pathlib import Path

import sample_city
from forestcycle.cycle import compare_scenarios, open_city
from forestcycle.cycle.compare import forecast_seconds
from forestcycle.cycle.scenarios import read_scenarios
from forestcycle.progress import ProgressLine

PACKAGES = ("numpy", "scipy", "ortools", "numba", "pandas", "geopandas", "distributed")
SHARES = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.5)
COUNTS = (1, 2, 3)
KIB_PER_MIB = 1024


def write_scenarios(path: Path, count: int, year_cents: int) -> None:
    """Budgets from half to one and a half of the city's, with one to three line crews."""
    lines = ["name,budget.year_cents,crews.Line crew.count,plan.least_worth"]
    for number in range(count):
        share = SHARES[number % len(SHARES)]
        crews = COUNTS[number // len(SHARES) % len(COUNTS)]
        least = number // (len(SHARES) * len(COUNTS))
        lines.append(
            f"{share:.0%} money; line crews {crews}; least worth {least},"
            f"{round(share * year_cents)},{crews},{float(least)}"
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def sweep(options: argparse.Namespace, folder: Path) -> dict[str, object]:
    begun = time.perf_counter()
    sample_city.make(folder, trees=options.trees, seed=options.seed)
    made = time.perf_counter()
    line = ProgressLine(every_seconds=20)
    city = open_city(folder / "cycle.toml", progress=line)
    opened = time.perf_counter()
    year_cents = city.settings.budget.year_cents or 0
    write_scenarios(folder / "scenarios.csv", options.scenarios, year_cents)
    compared = compare_scenarios(
        city,
        read_scenarios(folder / "scenarios.csv", city.settings),
        folder / "scenarios",
        time_limit=options.time_limit,
        workers=options.workers,
        cluster=options.cluster,
        progress=line,
    )
    ended = time.perf_counter()
    asked = options.forecast or options.scenarios
    seconds = [figures.seconds for _, figures in compared.found]
    each = sum(seconds) / len(seconds)
    before = compared.seconds_before + opened - made
    workers = options.workers or os.cpu_count() or 1
    gaps = [figures.gap for _, figures in compared.found if figures.worth]
    return {
        "trees": options.trees,
        "scenarios": options.scenarios,
        "time_limit": options.time_limit,
        "workers": workers,
        "making_the_city": made - begun,
        "before_the_scenarios": before,
        "one_scenario_mean": each,
        "one_scenario_most": max(seconds),
        "measured_in_all": ended - made,
        "forecast_for_these_workers": forecast_seconds(before, each, options.scenarios, workers),
        "scenarios_of_the_forecast": asked,
        "forecast": {
            str(count): round(forecast_seconds(before, each, asked, count))
            for count in (1, 2, 4, 8, 16, 32, 64)
        },
        "without_a_plan": len(compared.without_plan()),
        "largest_gap": max(gaps, default=0.0),
        "peak_mib_of_parent": _peak(resource.RUSAGE_SELF),
        "peak_mib_of_largest_worker": _peak(resource.RUSAGE_CHILDREN),
        "machine": f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}",
        "python": platform.python_version(),
        "versions": {name: version(name) for name in PACKAGES},
    }


def _peak(whose: int) -> int:
    return resource.getrusage(whose).ru_maxrss // KIB_PER_MIB


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=20_000)
    parser.add_argument("--scenarios", type=int, default=6)
    parser.add_argument("--time-limit", type=float, default=10.0)
    parser.add_argument("--workers", type=int)
    parser.add_argument("--forecast", type=int)
    parser.add_argument("--cluster")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = options.folder or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        found = sweep(options, folder)
    for name, value in found.items():
        print(f"{name:32} {value:,.1f}" if isinstance(value, float) else f"{name:32} {value}")
    if options.json:
        options.json.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
