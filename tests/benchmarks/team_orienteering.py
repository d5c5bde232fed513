"""How close the packer's inner search comes to published team-orienteering values.

``python -m tests.benchmarks.team_orienteering --data DIR --seconds S --json FILE``

Each file ``*.txt`` of DIR has the lines ``n``, ``m``, ``tmax`` and then one point per line,
``x y score``: the first is the start, the last the end of all m paths, none longer than tmax (Chao,
Golden and Wasil 1996, European Journal of Operational Research 88). Distances are Euclidean and
not rounded. ``best_known.csv`` has the columns ``instance`` and ``best_known``; an instance that it
does not name is searched too, and does not count in the shortfall. Every route is checked again by
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
from fnmatch import fnmatch
from itertools import pairwise
from pathlib import Path
from typing import Any

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


class FormatError(ValueError):
    """A file that is no instance, or no table of best known values."""


def read_instance(path: Path) -> Instance:
    lines = [line.split() for line in path.read_text(encoding="utf-8-sig").splitlines()]
    lines = [line for line in lines if line]
    try:
        head = {name.lower(): value for name, value in lines[:3]}
        count, paths, longest = int(head["n"]), int(head["m"]), head["tmax"]
        points = [(x, y, score) for x, y, score, *_ in lines[3 : 3 + count]]
        np.array([[longest, "0", "0"], *points], dtype=np.float64)
    except (KeyError, ValueError) as error:
        message = f"{path}: not the lines n, m, tmax and one 'x y score' per point"
        raise FormatError(message) from error
    if len(points) != count or count < 2:
        raise FormatError(f"{path}: n is {count}, and there are {len(points)} points")
    return Instance(path.stem, paths, longest, points)


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
    """Best known values by instance; none where there is no such table or no value in it."""
    path = folder / "best_known.csv"
    if not path.is_file():
        return {}
    with path.open(newline="", encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file, skipinitialspace=True))
    try:
        named = {row["instance"].strip().removesuffix(".txt"): row["best_known"] for row in rows}
        return {name: float(value) for name, value in named.items() if value and value.strip()}
    except (KeyError, ValueError, AttributeError) as error:
        message = f"{path}: not a table with the columns instance and best_known"
        raise FormatError(message) from error


def find_instances(folder: Path, names: str) -> list[Path]:
    """Files of a folder whose names, with or without ``.txt``, match a glob; not empty."""
    if not folder.is_dir():
        raise FormatError(f"--data {folder}: no such folder")
    wanted = names.removesuffix(".txt")
    found = sorted(path for path in folder.glob("*.txt") if fnmatch(path.stem, wanted))
    if not found:
        raise FormatError(f"--data {folder}: no file matches {wanted}.txt")
    return found


def summary(rows: list[dict[str, Any]]) -> dict[str, float]:
    """Shortfall from the best known values, of the instances that have one."""
    known = [row for row in rows if row["best_known"] is not None]
    worth = np.array([row["worth"] for row in known], dtype=np.float64)
    best = np.array([row["best_known"] for row in known], dtype=np.float64)
    short = np.where(best > 0, 1 - worth / np.maximum(best, 1e-12), 0.0)
    return {
        "instances": len(rows),
        "with_best_known": len(known),
        "mean_shortfall": float(np.maximum(short, 0.0).mean()) if known else 0.0,
        "worst_shortfall": float(short.max(initial=0.0)),
        "equalled": int((worth >= best - 1e-9).sum()),
    }


def measure(data: Path, names: str, seconds: float, seed: int) -> list[dict[str, Any]]:
    """Search and check every instance, and print a line for each."""
    best_known = read_best_known(data)
    instances = [read_instance(path) for path in find_instances(data, names)]
    warm_up()
    rows: list[dict[str, Any]] = []
    print(f"{'instance':<12}{'worth':>10}{'best known':>12}{'short %':>9}")
    for instance in instances:
        worth = check_paths(instance, search_paths(instance, seconds, seed))
        best = best_known.get(instance.name)
        rows.append({"instance": instance.name, "worth": worth, "best_known": best})
        short = f"{100 * (1 - worth / best):.2f}" if best else "0.00" if best == 0 else "-"
        shown = "-" if best is None else f"{best:.0f}"
        print(f"{instance.name:<12}{worth:>10.0f}{shown:>12}{short:>9}", flush=True)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--instances", default="*", help="glob over the names, without .txt")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    if given.json and not given.json.resolve().parent.is_dir():
        parser.error(f"--json {given.json}: no such folder")
    try:
        rows = measure(given.data, given.instances, given.seconds, given.seed)
    except FormatError as error:
        parser.error(str(error))
    found = summary(rows)
    print(
        f"{found['instances']} instances: mean shortfall {100 * found['mean_shortfall']:.3f} %, "
        f"worst {100 * found['worst_shortfall']:.2f} %, {found['equalled']} of "
        f"{found['with_best_known']} best known values equalled"
    )
    if given.json:
        run = {"seconds": given.seconds, "seed": given.seed, "machine": platform.machine()}
        given.json.write_text(json.dumps({"run": run, "summary": found, "rows": rows}, indent=1))


if __name__ == "__main__":
    main()
