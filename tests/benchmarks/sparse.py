"""Few trees and long ways: ``python -m tests.benchmarks.sparse --seconds 20 --json sparse.json``.

Random cities of 60 to 400 trees on 20 or 30 km, every other one with a window of dates
for each tree. Each is packed twice in the same time: with the bound and the search of
sets of routes, and without.
"""

import argparse
import json
from pathlib import Path
from unittest.mock import patch

import numpy as np

from forestcycle.schedule import Plan, Problem, pack, solve
from tests.benchmarks.invented_problem import GridTravel, check_plan, even_city

SIZES = ((60, 4), (100, 6), (200, 12), (400, 24))


def sparse_city(trees: int, crew_days: int, seed: int) -> Problem:
    """Spread trees over a wide country; odd seeds give each tree some open days in a row."""
    random = np.random.default_rng(seed)
    city = even_city(trees, crew_days, seed)
    side = 20_000.0 if trees <= 200 else 30_000.0
    spots = random.uniform(0, side, (int(0.8 * trees), 2))
    place = random.integers(0, len(spots), trees)
    depots = random.uniform(0.2 * side, 0.8 * side, (4, 2))
    fields = {name: getattr(city, name) for name in city.__dataclass_fields__}
    fields |= {
        "place": place,
        "x": spots[place, 0],
        "y": spots[place, 1],
        "depot": len(spots) + np.arange(crew_days) % 4,
        "parking_minutes": 3.0,
        "travel": GridTravel(np.vstack([spots, depots])),
    }
    if seed % 2:
        first = random.integers(0, crew_days, trees)[:, None]
        length = random.integers(1, crew_days + 1, trees)[:, None]
        day = np.arange(crew_days)
        fields |= {
            "window": np.arange(trees),
            "open_on": (day >= first) & (day < first + length),
        }
    return Problem(**fields)


def without_routes(problem: Problem, seconds: float) -> Plan:
    with patch.object(pack, "applies", return_value=False):
        return solve(problem, seconds=seconds, seed=1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--cities", type=int, default=5, help="of each size")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    rows = []
    print(f"{'trees':>5} {'days':>4} {'seed':>4} {'worth':>16} {'bound':>16} {'gap %':>12}")
    for trees, crew_days in SIZES:
        for seed in range(given.cities):
            problem = sparse_city(trees, crew_days, seed)
            row = {"trees": trees, "crew_days": crew_days, "seed": seed}
            for name, packed in (
                ("before", without_routes(problem, given.seconds)),
                ("after", solve(problem, seconds=given.seconds, seed=1)),
            ):
                worth, bound = check_plan(problem, packed), packed.bound.value
                row |= {f"worth_{name}": worth, f"bound_{name}": bound, f"gap_{name}": packed.gap}
                row[f"seconds_{name}"] = packed.seconds
            rows.append(row)
            print(
                f"{trees:>5} {crew_days:>4} {seed:>4}"
                f" {row['worth_before']:>7,.0f} {row['worth_after']:>8,.0f}"
                f" {row['bound_before']:>7,.0f} {row['bound_after']:>8,.0f}"
                f" {100 * row['gap_before']:>6.2f} {100 * row['gap_after']:>5.2f}",
                flush=True,
            )
    for trees, _ in SIZES:
        gaps = [(row["gap_before"], row["gap_after"]) for row in rows if row["trees"] == trees]
        before, after = 100 * np.mean(gaps, axis=0)
        print(f"{trees:>5} trees: mean gap {before:.2f} % before, {after:.2f} % after")
    if given.json:
        given.json.write_text(json.dumps({"seconds": given.seconds, "rows": rows}, indent=1))


if __name__ == "__main__":
    main()
