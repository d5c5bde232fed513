"""Street layers for tests: real ones from general libraries, and random ones."""

import geopandas as gpd
import libpysal
import momepy
import numpy as np
import shapely


def geodanet() -> gpd.GeoDataFrame:
    """293 streets that ship with libpysal (examples/geodanet); feet, taken as metres here."""
    return two_way(gpd.read_file(libpysal.examples.get_path("streets.shp")))


def bubenec() -> gpd.GeoDataFrame:
    """35 streets of a neighbourhood of Prague that ship with momepy."""
    return two_way(gpd.read_file(momepy.datasets.get_path("bubenec"), layer="streets"))


def two_way(streets: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    return streets.assign(one_way=False, speed_kmh=np.nan)[["one_way", "speed_kmh", "geometry"]]


def with_rules(streets: gpd.GeoDataFrame, seed: int) -> gpd.GeoDataFrame:
    """Give a layer one-way streets and speeds at random."""
    random = np.random.default_rng(seed)
    return streets.assign(
        one_way=random.uniform(size=len(streets)) < 0.3,
        speed_kmh=random.choice([20.0, 30.0, 50.0, np.nan], len(streets)),
    )


def layer(*lines: list[tuple[float, float]], one_way: bool = False) -> gpd.GeoDataFrame:
    """Streets through the given points."""
    return gpd.GeoDataFrame(
        {"one_way": [one_way] * len(lines), "speed_kmh": np.nan},
        geometry=[shapely.LineString(line) for line in lines],
        crs="EPSG:32626",
    )


def random_grid(seed: int, size: int = 5) -> gpd.GeoDataFrame:
    """A jittered grid that lacks some blocks and has one-way streets and speeds."""
    random = np.random.default_rng(seed)
    at = 100.0 * np.stack(np.meshgrid(np.arange(size), np.arange(size)), axis=-1)
    at += random.uniform(-30, 30, at.shape)
    lines = [[at[i, j], at[i, j + 1]] for i in range(size) for j in range(size - 1)]
    lines += [[at[i, j], at[i + 1, j]] for i in range(size - 1) for j in range(size)]
    kept = [line for line in lines if random.uniform() < 0.8]
    return with_rules(layer(*[[tuple(a), tuple(b)] for a, b in kept or lines[:1]]), seed)
