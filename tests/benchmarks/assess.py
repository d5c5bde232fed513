"""Time and memory of assessing invented trees, a tenth of them with defects on record.

``python -m tests.benchmarks.assess [--trees N] [--json FILE]``
"""

import argparse
import json
import resource
import time
from datetime import date
from pathlib import Path

from forestcycle.practice import assess
from forestcycle.progress import Step
from forestcycle.settings.practice import Practice
from tests.practice.random_city import random_city

ON, YEAR_END = date(2027, 1, 1), date(2027, 12, 31)
PEAK_UNIT = 1024**2  # ru_maxrss is in kibibytes on Linux


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--trees", type=int, default=1_000_000)
    options.add_argument("--json", type=Path)
    chosen = options.parse_args()
    assess(random_city(100), Practice(), on=ON, year_end=YEAR_END)  # compiles the packing loop
    city = random_city(chosen.trees)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / PEAK_UNIT
    begun = time.perf_counter()
    stages: list[tuple[str, float]] = []

    def note(step: Step) -> None:
        stages.append((step.stage, time.perf_counter() - begun))

    found = assess(city, Practice(), on=ON, year_end=YEAR_END, progress=note)
    seconds = time.perf_counter() - begun
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / PEAK_UNIT
    ends = [start for _, start in stages[1:]] + [seconds]
    for (stage, start), end in zip(stages, ends, strict=True):
        print(f"{stage:40s} {end - start:7.2f} s")
    result = {
        "trees": chosen.trees,
        "observations": len(city.defects),
        "visits": len(city.visits),
        "work_items": len(found.work),
        "seconds": round(seconds, 2),
        "peak_gib_before": round(before, 2),
        "peak_gib": round(peak, 2),
    }
    for name, value in result.items():
        print(f"{name:40s} {value:>9,}")
    if chosen.json:
        chosen.json.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
