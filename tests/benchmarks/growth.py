"""Growth of cost with the number of trees at equal gap: ``python -m tests.benchmarks.growth``.

Packs the even city of ``tests.benchmarks.city`` at several sizes, 100 trees to a crew-day,
and notes when the gap first falls to given values. The exponent is the slope of a straight
line through the logarithms of trees and seconds. The time of building the problem's arrays
counts in the total, and stands by itself too. What is known while packing goes on is the
worth after every round; the final choice counts with its own end. The time limit grows
with the trees, and the length of a round with it: a gap reached in the same round at every
size gives the exponent 1, one that takes more rounds at larger sizes gives more.
"""

import argparse
import json
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from forestcycle.progress import Step
from forestcycle.schedule import solve
from forestcycle.schedule.cluster import warm_up
from tests.benchmarks.invented_problem import check_plan, even_city

TREES_PER_CREW_DAY = 100


@dataclass
class History:
    """Seconds, worth and bound as the packing reports them."""

    began: float = field(default_factory=time.perf_counter)
    steps: list[tuple[float, float, float]] = field(default_factory=list)

    def __call__(self, step: Step) -> None:
        if step.worth and step.bound:
            self.note(step.worth, step.bound)

    def note(self, worth: float, bound: float) -> None:
        self.steps.append((time.perf_counter() - self.began, worth, bound))

    def reached(self, gap: float) -> float | None:
        """Seconds at which the gap was first no larger; None if it never was."""
        bound = min(bound for _, _, bound in self.steps)
        times = [seconds for seconds, worth, _ in self.steps if 1 - worth / bound <= gap]
        return min(times, default=None)


def measure(trees: int, seconds: float, seed: int, gaps: list[float]) -> dict:
    started = time.perf_counter()
    problem = even_city(trees, trees // TREES_PER_CREW_DAY, seed)
    built = time.perf_counter() - started
    history = History()
    plan = solve(problem, seconds=seconds, seed=seed, progress=history)
    history.note(check_plan(problem, plan), plan.bound.value)
    return {
        "trees": trees,
        "crew_days": problem.crew_days,
        "seconds_to_build": built,
        "seconds_limit": seconds,
        "gap": plan.gap,
        "rounds": plan.rounds,
        "seconds_to_gap": {f"{gap:g}": history.reached(gap) for gap in gaps},
        "history": history.steps,
    }


def exponent(rows: list[dict], gap: float, *, with_building: bool) -> float | None:
    """Slope of log seconds over log trees; None with fewer than two sizes that reached the gap."""
    points = [
        (row["trees"], row["seconds_to_gap"][f"{gap:g}"] + with_building * row["seconds_to_build"])
        for row in rows
        if row["seconds_to_gap"][f"{gap:g}"] is not None
    ]
    if len(points) < 2:
        return None
    trees, seconds = np.log(np.array(points)).T
    return float(np.polyfit(trees, seconds, 1)[0])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--trees", type=int, nargs="+", default=[10_000, 30_000, 100_000, 300_000, 1_000_000]
    )
    parser.add_argument("--gaps", type=float, nargs="+", default=[0.03, 0.025])
    parser.add_argument(
        "--seconds-per-1000", type=float, default=2.5, help="time limit for every 1,000 trees"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    warm_up()
    solve(even_city(1_000, 10, given.seed), seconds=3.0)  # compiles what is left to compile
    rows = []
    titles = [f"s to {100 * gap:g} %" for gap in given.gaps]
    print(f"{'trees':>9} {'build s':>8}", *(f"{title:>11}" for title in titles), f"{'gap %':>7}")
    for trees in given.trees:
        limit = max(5.0, given.seconds_per_1000 * trees / 1_000)
        row = measure(trees, limit, given.seed, given.gaps)
        rows.append(row)
        times = [row["seconds_to_gap"][f"{gap:g}"] for gap in given.gaps]
        cells = ["not reached" if t is None else f"{t:.1f}" for t in times]
        print(
            f"{trees:>9,} {row['seconds_to_build']:>8.1f}",
            *(f"{cell:>11}" for cell in cells),
            f"{100 * row['gap']:>7.2f}",
            flush=True,
        )
    fits = {
        f"{gap:g}": {
            "packing": exponent(rows, gap, with_building=False),
            "with_building": exponent(rows, gap, with_building=True),
        }
        for gap in given.gaps
    }
    for gap, fit in fits.items():
        shown = {name: "-" if slope is None else f"{slope:.2f}" for name, slope in fit.items()}
        print(
            f"gap {100 * float(gap):g} %: time grows as trees to the power {shown['packing']},"
            f" with building {shown['with_building']}"
        )
    if given.json:
        given.json.write_text(
            json.dumps({"seed": given.seed, "rows": rows, "fits": fits}, indent=1)
        )


if __name__ == "__main__":
    main()
