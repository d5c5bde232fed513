"""Record a season's returns of a large city: time and memory.

``python -m tests.benchmarks.record --trees 100000 --visits 30000``
"""

import argparse
import json
import resource
import tempfile
import time
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

import sample_city
from forestcycle.cycle import open_city, record_returns

DAY = date(2026, 12, 31)


def main() -> None:
    """Record once, and the same file again."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.record", description=__doc__)
    parser.add_argument("--trees", type=int, default=100_000)
    parser.add_argument("--visits", type=int, default=30_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    figures: dict[str, float] = {"trees": asked.trees, "visits": asked.visits}
    with tempfile.TemporaryDirectory() as folder:
        settings = sample_city.make(Path(folder), trees=asked.trees, seed=asked.seed)
        returns = Path(folder, "returns.csv")
        for step in ("first", "again"):
            began, used = time.monotonic(), time.process_time()
            city = open_city(settings)
            figures[f"open {step}: processor s"] = round(time.process_time() - used, 1)
            if step == "first":
                write_returns(returns, city.inventory.trees["tree_id"], asked)
            began, used = time.monotonic(), time.process_time()
            done = record_returns(city, returns, today=DAY)
            figures[f"record {step}: s"] = round(time.monotonic() - began, 1)
            figures[f"record {step}: processor s"] = round(time.process_time() - used, 1)
            figures[f"record {step}: visits"] = len(done.checked.new)
            figures[f"record {step}: defects seen"] = len(done.defects)
    figures["highest memory, MiB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss >> 10
    print("\n".join(f"{name:32} {value:>12,}" for name, value in figures.items()))
    if asked.json:
        asked.json.write_text(json.dumps(figures, indent=2))


def write_returns(path: Path, tree_ids: pd.Series, asked: argparse.Namespace) -> None:
    """Write returns of random trees over a year, a tenth of them with a defect seen."""
    random = np.random.default_rng(asked.seed)
    trees = random.choice(tree_ids.to_numpy(), asked.visits, replace=False)
    days = pd.Timestamp(DAY) - pd.to_timedelta(random.integers(0, 364, asked.visits), unit="D")
    seen = random.choice(["", "dead wood", "severe included bark; stub", "a nest"], asked.visits,
                         p=[0.9, 0.06, 0.03, 0.01])  # fmt: skip
    pd.DataFrame(
        {
            "tree_id": trees,
            "visited_on": days.strftime("%Y-%m-%d"),
            "crew": random.choice(["Climbing crew", "Ground crew"], asked.visits),
            "outcome": random.choice(["done", "partly done"], asked.visits),
            "minutes": random.uniform(5, 90, asked.visits).round(1),
            "dose": random.uniform(0, 0.3, asked.visits).round(3),
            "defects_seen": seen,
        }
    ).to_csv(path, index=False)


if __name__ == "__main__":
    main()
