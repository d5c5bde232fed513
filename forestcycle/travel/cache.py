"""Keep a street graph between runs, under a name made from what went into it."""

import hashlib
import zipfile
from dataclasses import fields
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from forestcycle.inventory.atomic import replacing
from forestcycle.travel.streets import MEND_METRES, StreetGraph, build_streets

LAYOUT = 1
"""Raised whenever the graph's arrays change their meaning."""


def cached_streets(
    streets: gpd.GeoDataFrame, speed_kmh: float, *, folder: Path | None
) -> StreetGraph | None:
    """Build a street graph, or load it where the same one was built before.

    Parameters
    ----------
    streets : GeoDataFrame
        See :func:`forestcycle.travel.streets.build_streets`.
    speed_kmh : float
    folder : Path or None
        Where graphs are kept; None keeps none.

    Returns
    -------
    StreetGraph or None
        None where the layer has no line with a length.
    """
    if not (shapely.length(streets.geometry.to_numpy()) > 0).any():
        return None
    if folder is None:
        return build_streets(streets, speed_kmh=speed_kmh)
    path = folder / f"streets-{_key(streets, speed_kmh)}.npz"
    graph = _load(path)
    if graph is None:
        graph = build_streets(streets, speed_kmh=speed_kmh)
        _save(graph, path)
    return graph


def _key(streets: gpd.GeoDataFrame, speed_kmh: float) -> str:
    digest = hashlib.sha256(repr((LAYOUT, MEND_METRES, speed_kmh)).encode("ascii"))
    for shape in shapely.to_wkb(streets.geometry.to_numpy()):
        digest.update(shape if shape is not None else b"none")
    digest.update(streets["one_way"].to_numpy(dtype=bool).tobytes())
    digest.update(streets["speed_kmh"].to_numpy(dtype=np.float64).tobytes())
    return digest.hexdigest()[:24]


def _load(path: Path) -> StreetGraph | None:
    """Read a kept graph; one that is missing or damaged is built anew."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as kept:
            arrays = {field.name: kept[field.name] for field in fields(StreetGraph)}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    for name in ("mended_ends", "mended_crossings"):
        arrays[name] = int(arrays[name])
    return StreetGraph(**arrays)


def _save(graph: StreetGraph, path: Path) -> None:
    with replacing(path) as part:
        np.savez(part, **{field.name: getattr(graph, field.name) for field in fields(graph)})
