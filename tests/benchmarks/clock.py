"""Whether a clock limit is kept: wall time of whole packings beside the seconds asked for.

``python -m tests.benchmarks.clock --sizes 200x3 1000x20 5000x60 --seconds 5 15``

Sizes are trees x crew-days of the hard city (streets, windows, skills, budgets).
The promise is an overrun of at most a tenth. One packing first, not counted, loads
compiled code. ``busy`` is the machine's load per processor while it ran: other
work on the machine makes a clock late, too.
"""

import argparse
import json
import os
import time
from pathlib import Path

from forestcycle.schedule import solve
from tests.benchmarks.invented_problem import check_plan, even_city, hard_city

PROMISE = 0.10


def measure(trees: int, crew_days: int, seconds: float, seed: int) -> dict:
    """Pack once and say by how much the limit was overrun."""
    problem = hard_city(trees, crew_days, seed)
    began = time.perf_counter()
    plan = solve(problem, seconds=seconds, seed=seed)
    took = time.perf_counter() - began
    check_plan(problem, plan)
    return {
        "trees": problem.trees,
        "crew_days": crew_days,
        "limit": seconds,
        "seconds": took,
        "overrun": took / seconds - 1,
        "kept": took <= seconds * (1 + PROMISE),
        "busy": os.getloadavg()[0] / (os.cpu_count() or 1),
    }


def main() -> None:
    """Measure every size with every limit."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.clock", description=__doc__)
    parser.add_argument("--sizes", nargs="+", default=["200x3", "1000x20", "5000x60"])
    parser.add_argument("--seconds", nargs="+", type=float, default=[5.0, 15.0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    solve(even_city(200, 3, asked.seed), rounds=1, seed=1)
    rows = []
    print(f"{'trees':>9} {'crew-days':>9} {'limit s':>8} {'took s':>8} {'overrun':>8} {'busy':>5}")
    for size in asked.sizes:
        trees, crew_days = (int(part) for part in size.split("x"))
        for seconds in asked.seconds:
            row = measure(trees, crew_days, seconds, asked.seed)
            rows.append(row)
            print(
                f"{row['trees']:>9,} {crew_days:>9,} {seconds:>8.1f} {row['seconds']:>8.2f} "
                f"{row['overrun']:>+8.1%} {row['busy']:>5.1f}{'' if row['kept'] else '  late'}",
                flush=True,
            )
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
