"""Time and memory of reading and checking an inventory, on an invented GeoPackage.

``python -m tests.benchmarks.inspect_inventory [--trees N] [--json FILE]``
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

SPECIES = ["Acer rubrum", "Acer platanoides", "Quercus robur", "Tilia cordata", "Prunus spp.", "?"]


def write_invented_city(path: Path, trees: int) -> None:
    from forestcycle.inventory.store import write_layers

    rng = np.random.default_rng(1)
    side = 15_000.0
    table = {
        "tree_id": np.char.add("T", np.arange(trees).astype(str)),
        "species": rng.choice(SPECIES, trees),
        "dbh_in": np.round(rng.lognormal(2, 0.8, trees), 1) * (rng.random(trees) > 0.01),
        "condition": rng.choice(["Good", "Fair", "Poor", "Dead"], trees, p=[0.5, 0.3, 0.19, 0.01]),
        "address": np.char.add(rng.integers(1, 9999, trees).astype(str), " Oak Street"),
        "date_planted": rng.integers(1950, 2025, trees),
    }
    x, y = 500_000 + rng.random((2, trees)) * side
    y += 4_500_000
    frame = gpd.GeoDataFrame(table, geometry=shapely.points(x, y), crs=32610)
    edges = np.linspace(0, side, 6)[:-1] + 500_000
    boxes = [shapely.box(a, b + 4.5e6, a + 3e3, b + 4.503e6) for a in edges for b in edges]
    wards = gpd.GeoDataFrame({"ward": [f"Ward {i}" for i in range(25)]}, geometry=boxes, crs=32610)
    write_layers(path, {"trees": frame, "wards": wards})


def inspect_one(path: Path) -> dict[str, float]:
    """Run in a process of its own, so that the peak memory is its own."""
    from forestcycle.inventory import inspect_file

    begun = time.perf_counter()
    findings = inspect_file(path)
    inspected = time.perf_counter() - begun
    from forestcycle.inventory import open_inventory

    assert findings.settings is not None
    begun = time.perf_counter()
    inventory = open_inventory(findings.settings, path.parent)
    return {
        "rows": findings.rows,
        "usable": findings.usable,
        "set_aside_lines": len(inventory.set_aside),
        "inspect_seconds": inspected,
        "open_seconds": time.perf_counter() - begun,
        "peak_gib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=1_000_000)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--only", type=Path, help=argparse.SUPPRESS)
    wanted = parser.parse_args()
    if wanted.only:
        print(json.dumps(inspect_one(wanted.only)))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "city.gpkg"
        begun = time.perf_counter()
        write_invented_city(path, wanted.trees)
        written = time.perf_counter() - begun
        command = [sys.executable, "-m", "tests.benchmarks.inspect_inventory", "--only", str(path)]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        figures = json.loads(done.stdout) | {"write_seconds": written}
        figures["file_mib"] = path.stat().st_size / 2**20
    for name, figure in figures.items():
        print(f"{name:<18}{figure:>14,.2f}")
    if wanted.json:
        wanted.json.write_text(json.dumps(figures, indent=2) + "\n")


if __name__ == "__main__":
    main()
