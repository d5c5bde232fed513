"""Try thousands of random small cities: ``python -m tests.schedule.many_routes --cases 3000``."""

import argparse

import numpy as np

from tests.schedule.test_routes import check_case


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=3_000)
    parser.add_argument("--first", type=int, default=10_000)
    given = parser.parse_args()
    gaps = [check_case(seed) for seed in range(given.first, given.first + given.cases)]
    kept = np.array([gap for gap in gaps if gap is not None])
    print(f"{given.cases:,} cities, {len(kept):,} with a plan; no bound below the best plan")
    for name, column in zip(("allocation", "routes"), kept.T, strict=True):
        exact = (column < 1e-6).mean()
        print(f"{name:<11} mean gap {100 * column.mean():.2f} %, exact in {100 * exact:.0f} %")


if __name__ == "__main__":
    main()
