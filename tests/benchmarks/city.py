"""Pack a large invented city: ``python -m tests.benchmarks.city --trees 100000 --crew-days 1000``.

Prints worth, bound, gap, seconds and peak memory; ``--json FILE`` writes them too. ``--hard``
takes the city with streets, windows, skills and budgets. Every plan is checked again. The
search's machine code, made once on a machine, is ready before the clock starts, and its
seconds are told apart.
"""

import argparse
import json
import resource
import time
from pathlib import Path

from forestcycle.progress import ProgressLine
from forestcycle.schedule import solve
from forestcycle.schedule.cluster import warm_up
from forestcycle.schedule.routes import applies, warm_up_routes
from tests.benchmarks.invented_problem import check_plan, even_city, hard_city


def measure(trees: int, crew_days: int, seconds: float, seed: int, *, hard: bool) -> dict:
    make = hard_city if hard else even_city
    problem = make(trees, crew_days, seed)
    made_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    progress = ProgressLine()
    started = time.perf_counter()
    warm_up()
    if applies(problem):
        warm_up_routes()
    prepared = time.perf_counter() - started
    started = time.perf_counter()
    plan = solve(problem, seconds=seconds, seed=seed, progress=progress)
    took = time.perf_counter() - started
    progress.close()
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    worth = check_plan(problem, plan)
    return {
        "trees": problem.trees,
        "crew_days": crew_days,
        "hard": hard,
        "seed": seed,
        "worth": worth,
        "bound": plan.bound.value,
        "gap": 1 - worth / plan.bound.value,
        "planned": len(plan.tree),
        "rounds": plan.rounds,
        "time_limit": seconds,
        "seconds": took,
        "preparing": prepared,
        "peak_mib": peak_mib,
        "problem_mib": made_mib,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=100_000)
    parser.add_argument("--crew-days", type=int, default=1_000)
    parser.add_argument("--seconds", type=float, default=300.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--hard", action="store_true")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    figures = measure(given.trees, given.crew_days, given.seconds, given.seed, hard=given.hard)
    for name, value in figures.items():
        print(f"{name:<12} {value:>16,.4f}" if isinstance(value, float) else f"{name:<12} {value}")
    if given.json:
        given.json.write_text(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()
