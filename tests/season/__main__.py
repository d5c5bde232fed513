"""Play a season on a sample city of any size, check it, and print what happened."""

import argparse
import tempfile
import time
from pathlib import Path

from tests.season.books_check import faults_of
from tests.season.season import begin, play


def main() -> None:
    """Parse the command line and play."""
    parser = argparse.ArgumentParser(prog="python -m tests.season", description=__doc__)
    parser.add_argument("--trees", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--days-per-crew", type=int, default=120)
    parser.add_argument("--every", type=int, default=7, help="days between two files of returns")
    asked = parser.parse_args()
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="season-") as folder:
        season = begin(
            Path(folder), trees=asked.trees, seed=asked.seed, days_per_crew=asked.days_per_crew
        )
        print(f"planned after {time.monotonic() - started:.0f} s", flush=True)
        play(season, every=asked.every)
        for remark in season.remarks:
            print(remark)
        faults = faults_of(season)
        ledger = season.ledger
        print(
            f"{asked.trees:,} trees, {len(ledger.recorded):,} visits on record, "
            f"{ledger.refused:,} lines refused, {ledger.minutes():,.1f} minutes, "
            f"{ledger.cents():,} cents, {time.monotonic() - started:.0f} s"
        )
    print("\n".join(faults) or "books and ledger agree; every promise was kept")


if __name__ == "__main__":
    main()
