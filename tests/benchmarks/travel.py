"""How long travel takes on the sample city: ``python -m tests.benchmarks.travel --trees 100000``.

Prints a table; ``--json FILE`` writes it too.
"""

import argparse
import json
import resource
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np

from forestcycle.settings.travel import TravelRules
from forestcycle.travel import StreetTravel, build_travel
from sample_city.city import make_city

TERRITORY = 300
REPEATS = 5


def seconds(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Middle of a few runs, the first of which warms up what is kept."""
    work()
    times = []
    for _ in range(repeats):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return float(np.median(times))


def measure(trees: int, seed: int) -> dict[str, float]:
    city = make_city(trees=trees, seed=seed)
    points = city.layers["trees"].geometry
    points = points[~points.is_empty & (points.x > 1)]
    depots = city.layers["depots"].geometry
    x, y = points.x.to_numpy(), points.y.to_numpy()
    started = time.perf_counter()
    travel, _ = build_travel(
        x, y, depots.x.to_numpy(), depots.y.to_numpy(), city.layers["streets"], TravelRules()
    )
    built = time.perf_counter() - started
    assert isinstance(travel, StreetTravel)
    places = np.arange(travel.place_count)
    start = np.random.default_rng(seed).integers(travel.place_count)
    away = np.hypot(travel.x[places] - travel.x[start], travel.y[places] - travel.y[start])
    near = np.argsort(away)[:TERRITORY]
    depot = travel.place_count

    def draw_legs() -> None:
        for origin, destination in pairwise(near[:101]):
            travel.path(int(origin), int(destination))

    return {
        "trees": len(x),
        "streets": len(travel.streets.start),
        "crossings": len(travel.streets.node_x),
        "places": travel.place_count,
        "build_seconds": built,
        "territory_seconds": seconds(lambda: travel.minutes(near, near)),
        "depot_to_all_seconds": seconds(lambda: travel.minutes([depot], places)),
        "hundred_legs_drawn_seconds": seconds(draw_legs, 2),
        "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, nargs="+", default=[6_000, 100_000])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    rows = [measure(trees, options.seed) for trees in options.trees]
    for name in rows[0]:
        print(f"{name:28}", *(f"{row[name]:14,.4g}" for row in rows))
    if options.json:
        options.json.write_text(json.dumps(rows, indent=2), encoding="utf-8")


if __name__ == "__main__":
    main()
