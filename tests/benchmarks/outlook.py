"""Years ahead for a large city: ``python -m tests.benchmarks.outlook --trees 200000``.

Solves every budget one after another, each from what the last one learned, and
follows the three habits. The city is the sample city of that many trees.
"""

import argparse
import json
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from forestcycle.cycle import open_city
from forestcycle.cycle.outlook import outlook_of
from sample_city.city import make

YEARS, BUDGETS = 20, "60%,80%,100%,120%,150%"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=200_000)
    parser.add_argument("--years", type=int, default=YEARS)
    parser.add_argument("--budgets", default=BUDGETS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    with TemporaryDirectory() as folder:
        make(folder, trees=asked.trees, seed=asked.seed)
        started, processor = time.monotonic(), time.process_time()
        city = open_city(Path(folder) / "cycle.toml")
        opened = time.monotonic() - started
        found = outlook_of(city, years=asked.years, budgets=asked.budgets)
    figures = {
        "trees": int(found.horizon.stock.trees),
        "years": asked.years,
        "cells of the first year": len(found.horizon.stock.cells.state),
        "states": found.horizon.stock.states.count,
        "wards": len(found.horizon.stock.wards),
        "seconds to open the city": round(opened, 1),
        "seconds of the outlook": round(found.seconds, 1),
        "seconds of processor": round(time.process_time() - processor, 1),
        **{f"gap at {plan.budget.name}": round(plan.gap, 5) for plan in found.plans},
        **{f"rounds at {plan.budget.name}": plan.rounds for plan in found.plans},
    }
    for name, value in figures.items():
        print(f"{name:>28}  {value:,}" if isinstance(value, int) else f"{name:>28}  {value}")
    if asked.json:
        asked.json.write_text(json.dumps(figures, indent=2) + "\n")


if __name__ == "__main__":
    main()
