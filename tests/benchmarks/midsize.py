"""Packing beside its rivals, same data and time: ``python -m tests.benchmarks.midsize``.

1,000 trees and 20 crew-days in 30 s, 5,000 and 100 in 60 s. Every plan, a
rival's too, is checked again before its worth counts.
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np

from forestcycle.schedule import allocate, solve
from forestcycle.schedule.cluster import warm_up
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import IntArray, Problem
from tests.benchmarks.invented_problem import check_plan, even_city
from tests.benchmarks.rivals import (
    greedy_by_priority,
    pyvrp_alone,
    routing_alone,
    ward_rotation,
)

SIZES = ((1_000, 20, 30.0), (5_000, 100, 60.0))


def forestcycle(problem: Problem, seconds: float, seed: int) -> list[IntArray]:
    plan = solve(problem, seconds=seconds, seed=seed)
    return [plan.tree[plan.crew_day == day] for day in range(problem.crew_days)]


CONTENDERS = (forestcycle, pyvrp_alone, routing_alone, greedy_by_priority, ward_rotation)


def as_plan(problem: Problem, routes: list[IntArray]) -> Plan:
    lengths = [len(route) for route in routes]
    tree = np.concatenate(routes)
    return Plan(
        crew_day=np.repeat(np.arange(len(routes)), lengths),
        order=np.concatenate([np.arange(length) for length in lengths]),
        tree=tree,
        worth=float(problem.worth[tree].sum()),
        bound=None,
        interrupted=False,
        rounds=0,
        seconds=0.0,
        seed=0,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    warm_up()
    rows = []
    print(f"{'trees':>7} {'days':>5} {'contender':<20} {'worth':>10} {'gap %':>7} {'seconds':>8}")
    for trees, crew_days, seconds in SIZES:
        problem = even_city(trees, crew_days, given.seed)
        bound = allocate(problem).value
        for contender in CONTENDERS:
            started = time.perf_counter()
            routes = contender(problem, seconds, given.seed)
            took = time.perf_counter() - started
            worth = check_plan(problem, as_plan(problem, routes))
            row = {
                "trees": trees,
                "crew_days": crew_days,
                "contender": contender.__name__,
                "worth": worth,
                "bound": bound,
                "gap": 1 - worth / bound,
                "seconds": took,
            }
            rows.append(row)
            print(
                f"{trees:>7,} {crew_days:>5} {row['contender']:<20} {worth:>10,.0f} "
                f"{100 * row['gap']:>7.2f} {took:>8.1f}",
                flush=True,
            )
    if given.json:
        given.json.write_text(json.dumps({"seed": given.seed, "rows": rows}, indent=1))


if __name__ == "__main__":
    main()
