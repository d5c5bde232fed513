"""Publish a large plan: seconds, memory and file sizes, and how soon the city map opens.

``python -m tests.benchmarks.publish [--trees N] [--json FILE] [--keep FOLDER]``. The plan is the
tests' example town, laid side by side 125 times: 1,000 crew-days.
"""

import argparse
import json
import resource
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio

from forestcycle.progress import Step
from forestcycle.publish import publish
from forestcycle.publish.plan_folder import PLAN_FILE
from tests.publish.browser import browsing
from tests.publish.example_plan import write_example_plan

CREW_PAIRS, WEEKS = 5, 25
TILES_WIDE = 12
TILE_M = 1_000.0
DAYS = ("date", "planned_on")


def write_large_plan(folder: Path, trees: int) -> Path:
    """Lay the example town side by side, each with its own crews and week."""
    tiles = CREW_PAIRS * WEEKS
    write_example_plan(folder, trees=trees // tiles)
    path = folder / PLAN_FILE
    layers = {
        name: pyogrio.read_dataframe(path, layer=name) for name in pyogrio.list_layers(path)[:, 0]
    }
    path.unlink()
    for name, layer in layers.items():
        if name in ("run", "prices", "set_aside", "work"):
            pyogrio.write_dataframe(layer, path, layer=name)
            continue
        laid = pd.concat([_tile(layer, tile) for tile in range(tiles)], ignore_index=True)
        pyogrio.write_dataframe(laid, path, layer=name)
    return folder


def _tile(layer: gpd.GeoDataFrame, tile: int) -> gpd.GeoDataFrame:
    pair, week = tile % CREW_PAIRS, tile // CREW_PAIRS
    east, north = (tile % TILES_WIDE) * TILE_M, (tile // TILES_WIDE) * TILE_M
    tiled = layer.set_geometry(layer.geometry.translate(east, north))
    for column in ("tree_id", "street", "depot"):
        if column in tiled:
            tiled[column] = tiled[column] + f" {tile}"
    for column in DAYS:
        if column in tiled:
            tiled[column] = tiled[column] + pd.Timedelta(weeks=week)
    if "crew" in tiled:
        tiled["crew"] = tiled["crew"] + f" {pair}"
    if "crew_day_id" in tiled:
        days = pd.to_datetime(tiled["crew_day_id"].str[:10]) + pd.Timedelta(weeks=week)
        crews = tiled["crew_day_id"].str[10:] + f" {pair}"
        tiled["crew_day_id"] = (days.dt.strftime("%Y-%m-%d") + crews).fillna("")
    if "reason_text" in tiled:
        worth = (tiled["priority"] / tiled["minutes"]).map("{:.3f}".format)
        tiled["reason_text"] = tiled["reason_text"] + " Worth " + worth + " per minute."
    return tiled


def open_city_map(page_file: Path) -> dict[str, float]:
    """Seconds from the address to all trees drawn, and for zooming and filtering."""
    with browsing({"width": 1440, "height": 900}) as page:
        start = time.perf_counter()
        page.goto(page_file.resolve().as_uri())
        page.wait_for_selector("#loading", state="detached", timeout=60_000)
        page.evaluate("new Promise(done => requestAnimationFrame(() => setTimeout(done)))")
        opened = time.perf_counter() - start
        timed = (
            "(work) => { const start = performance.now(); work(); "
            "return performance.now() - start; }"
        )
        zoom = page.evaluate(
            f"({timed})(() => map_city.setZoom(map_city.getZoom() + 1, {{animate: false}}))"
        )
        chosen = page.evaluate(
            f"({timed})(() => document.querySelector('#planned button[value=planned]').click())"
        )
    return {"open_s": opened, "zoom_ms": zoom, "filter_ms": chosen}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, default=100_000)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = write_large_plan(options.keep or Path(scratch) / "plan", options.trees)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        stages: dict[str, float] = {}
        start = time.perf_counter()
        publish(folder, progress=lambda step: _note(stages, step))
        figures: dict[str, float] = {
            "trees": options.trees,
            "publish_s": time.perf_counter() - start,
            "peak_gib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20,
            "peak_before_gib": before / 2**20,
            "city_map_mb": (folder / "maps/city.html").stat().st_size / 1e6,
            "all_maps_mb": sum(f.stat().st_size for f in folder.glob("maps/**/*.html")) / 1e6,
            "crew_week_pages": len(list(folder.glob("maps/crews/*.html"))),
            **open_city_map(folder / "maps/city.html"),
        }
    times = sorted(stages.items(), key=lambda item: item[1])
    for (stage, began), (_, ended) in zip(
        times, [*times[1:], ("", time.perf_counter())], strict=True
    ):
        print(f"{stage:32} {ended - began:9.1f} s")
    for name, value in figures.items():
        print(f"{name:32} {value:9,.2f}")
    if options.json:
        options.json.write_text(json.dumps(figures, indent=2) + "\n")


def _note(stages: dict[str, float], step: Step) -> None:
    stages.setdefault(step.stage, time.perf_counter())


if __name__ == "__main__":
    main()
