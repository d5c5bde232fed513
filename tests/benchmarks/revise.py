"""Revise the sample city under way: ``python -m tests.benchmarks.revise --trees 100000``.

Makes the city and its plan (or takes both from ``--folder``), records the returns up
to June, and times the whole command: a lost day, and a storm of three days for
two crews. Prints seconds and processor seconds; ``--json FILE`` writes them too.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio

from tests.fieldwork.field_season import COLUMNS

UNTIL = "2027-06-01"
NOT_DONE = 0.03
WORDS = (
    ("--lost-day", "2027-06-08", "Line crew"),
    ("--storm", "2027-06-14", "2027-06-16", "--storm-crew", "Climbing crew"),
)


def command(folder: Path, *words: str) -> tuple[float, float]:
    """Run forestcycle; return seconds and processor seconds."""
    began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "forestcycle", *words, "--quiet"], cwd=folder, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - began, processor


def returns(folder: Path, seed: int) -> None:
    """Write what crews say of the stops up to June; a few were skipped."""
    file = folder / "plan" / "plan.gpkg"
    stops = pyogrio.read_dataframe(file, layer="stops", read_geometry=False)
    stops = stops[pd.to_datetime(stops["date"]) < pd.Timestamp(UNTIL)]
    done = np.random.default_rng(seed).random(len(stops)) > NOT_DONE
    pd.DataFrame(
        {
            "tree_id": stops["tree_id"],
            "visited_on": pd.to_datetime(stops["date"]).dt.strftime("%Y-%m-%d"),
            "crew": stops["crew"],
            "outcome": np.where(done, "done", "skipped"),
            "minutes": stops["service_minutes"].round(),
            "dose": np.where(done, stops["dose"], 0.0),
        }
    )[COLUMNS].to_csv(folder / "returns.csv", index=False)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plan-seconds", type=int, default=60)
    parser.add_argument("--time-limit", type=int, default=6)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    folder = given.folder or Path(tempfile.mkdtemp())
    settings = "cycle.toml"
    if not (folder / "plan" / "plan.gpkg").exists():
        made = ["-m", "sample_city", "--trees", str(given.trees), "--seed", str(given.seed)]
        subprocess.run([sys.executable, *made, str(folder)], check=True)
        limit = str(given.plan_seconds)
        command(folder, "plan", settings, "--out", "plan", "--time-limit", limit)
    returns(folder, given.seed)
    command(folder, "record", settings, "returns.csv", "--plan", "plan", "--today", "2027-12-31")
    rows = []
    for words in WORDS:
        limit = ("--from", UNTIL, "--time-limit", str(given.time_limit))
        seconds, processor = command(folder, "revise", settings, *limit, *words)
        told = json.loads((folder / "plan" / "revision.json").read_text())
        row = {"facts": told["facts"], "seconds": seconds, "processor_seconds": processor}
        row |= {name: told[name] for name in ("counts", "days_repacked", "gap", "paid")}
        row |= {name: told[name] for name in ("worth_before", "worth_dropped_only", "worth_after")}
        rows.append(row)
        print(json.dumps(row, indent=1), flush=True)
    if given.json:
        given.json.write_text(json.dumps({"trees": given.trees, "rows": rows}, indent=1))


if __name__ == "__main__":
    main()
