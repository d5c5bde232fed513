"""How close the packer's inner search comes to published team-orienteering values.

``python -m tests.benchmarks.team_orienteering --data DIR --seconds S --json FILE``

Each file of DIR has the lines ``n``, ``m``, ``tmax`` and then one point per line, ``x y score``:
the first is the start, the last the end of all m paths, none longer than tmax (Chao, Golden and
Wasil 1996, European Journal of Operational Research 88). Distances are Euclidean and not rounded.
``best_known.csv`` has the columns ``instance`` and ``best_known``. Every route is checked again by
code that shares nothing with the search, with square roots to forty digits.
"""

import argparse
import csv
import json
import platform
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from decimal import Decimal, localcontext
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.spatial.distance import cdist

from forestcycle.schedule.cluster import ClusterSearch, make_ground, warm_up

WORKERS = 2
HOT, COLD = 1.0, 0.1
CYCLES = 2
STEPS_AT_ONCE = 500
LONGER_BY = 1e-10
"""Minutes by which a route may seem too long for want of digits."""


@dataclass(frozen=True)
class Instance:
    """Points with scores, and paths from the first to the last point."""

    name: str
    paths: int
    longest: str
    points: list[tuple[str, str, str]]


def read_instance(path: Path) -> Instance:
    lines = path.read_text().split("\n")
    count, paths = int(lines[0].split()[1]), int(lines[1].split()[1])
    points = [tuple(line.split()[:3]) for line in lines[3 : 3 + count]]
    return Instance(path.stem, paths, lines[2].split()[1], points)


def search_paths(instance: Instance, seconds: float, seed: int) -> list[list[int]]:
    """Points of each path between the ends, best of several searches side by side."""
    points = np.array(instance.points, dtype=np.float64)
    distance = cdist(points[:, :2], points[:, :2])
    longest = float(instance.longest) + LONGER_BY
    inner = np.arange(1, len(points) - 1)
    near = distance[0, inner] + distance[inner, -1] <= longest
    inner = inner[near & (points[inner, 2] > 0)]
    if not len(inner):
        return []
    ground = make_ground(
        distance[np.ix_(inner, inner)],
        np.tile(distance[0, inner], (instance.paths, 1)),
        np.tile(distance[inner, -1], (instance.paths, 1)),
        np.zeros(len(inner)),
        points[inner, 2],
        np.full(instance.paths, longest),
    )
    ends = time.monotonic() + seconds
    searches = [ClusterSearch(ground, seed=seed * WORKERS + k) for k in range(WORKERS)]
    with ThreadPoolExecutor(WORKERS) as pool:
        list(pool.map(lambda search: _anneal(search, seconds, ends), searches))
    found = [[inner[list(route.stops)].tolist() for route in one.routes] for one in searches]
    return max(found, key=lambda paths: sum(points[path, 2].sum() for path in paths))


def _anneal(search: ClusterSearch, seconds: float, ends: float) -> None:
    """Cool down several times within the time."""
    while (left := ends - time.monotonic()) > 0:
        share = (1 - left / seconds) * CYCLES % 1
        heat = HOT * (COLD / HOT) ** share
        search.run(STEPS_AT_ONCE, hot=heat, cold=heat)


def check_paths(instance: Instance, paths: list[list[int]]) -> float:
    """Score of the paths; fails if they are too many, too long or meet a point twice."""
    visited = [point for path in paths for point in path]
    last = len(instance.points) - 1
    assert len(paths) <= instance.paths
    assert len(set(visited)) == len(visited)
    assert not {0, last} & set(visited)
    with localcontext() as context:
        context.prec = 40
        for path in paths:
            way = [0, *path, last]
            length = sum((_distance(instance, a, b) for a, b in pairwise(way)), Decimal(0))
            assert length <= Decimal(instance.longest) + Decimal("1e-9"), (instance.name, length)
    return sum(float(instance.points[point][2]) for point in visited)


def _distance(instance: Instance, a: int, b: int) -> Decimal:
    (ax, ay, _), (bx, by, _) = instance.points[a], instance.points[b]
    return ((Decimal(ax) - Decimal(bx)) ** 2 + (Decimal(ay) - Decimal(by)) ** 2).sqrt()


def read_best_known(folder: Path) -> dict[str, float]:
    with (folder / "best_known.csv").open(newline="") as file:
        return {row["instance"]: float(row["best_known"]) for row in csv.DictReader(file)}


def summary(rows: list[dict[str, object]]) -> dict[str, float]:
    worth = np.array([row["worth"] for row in rows], dtype=np.float64)
    best = np.array([row["best_known"] for row in rows], dtype=np.float64)
    short = np.where(best > 0, 1 - worth / np.maximum(best, 1e-12), 0.0)
    return {
        "instances": len(rows),
        "mean_shortfall": float(np.maximum(short, 0.0).mean()),
        "worst_shortfall": float(short.max()),
        "equalled": int((worth >= best - 1e-9).sum()),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--instances", default="*", help="glob over the names, without .txt")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    best_known = read_best_known(given.data)
    warm_up()
    rows: list[dict[str, object]] = []
    print(f"{'instance':<12}{'worth':>10}{'best known':>12}{'short %':>9}")
    for path in sorted(given.data.glob(f"{given.instances}.txt")):
        instance = read_instance(path)
        if instance.name not in best_known:
            continue
        worth = check_paths(instance, search_paths(instance, given.seconds, given.seed))
        best = best_known[instance.name]
        rows.append({"instance": instance.name, "worth": worth, "best_known": best})
        short = 100 * (1 - worth / best) if best else 0.0
        print(f"{instance.name:<12}{worth:>10.0f}{best:>12.0f}{short:>9.2f}", flush=True)
    found = summary(rows)
    print(
        f"{found['instances']} instances: mean shortfall {100 * found['mean_shortfall']:.3f} %, "
        f"worst {100 * found['worst_shortfall']:.2f} %, {found['equalled']} equalled"
    )
    if given.json:
        run = {"seconds": given.seconds, "seed": given.seed, "machine": platform.machine()}
        given.json.write_text(json.dumps({"run": run, "summary": found, "rows": rows}, indent=1))


if __name__ == "__main__":
    main()
