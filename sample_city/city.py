"""Put the sample city together and write it down."""

from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio

from sample_city.defects import make_defects
from sample_city.ground import CRS, Ground, Integers, Random, make_ground
from sample_city.history import make_requests, make_visits
from sample_city.mistakes import make_mistakes
from sample_city.names import depot_names, street_names
from sample_city.planting import Sites, join_sites, park_sites, street_sites
from sample_city.settings import settings_text
from sample_city.streets import Streets, make_streets
from sample_city.trees import make_trees
from sample_city.wards import make_depots, make_wards

TREES_PER_LATTICE_POINT = 25.0
LEAST_TREES = 200
MOST_PARK_SHARE = 0.15


@dataclass(frozen=True)
class City:
    """All layers and tables, by name, in the order in which they are written."""

    layers: dict[str, gpd.GeoDataFrame]
    tables: dict[str, pd.DataFrame]


def make(folder: Path | str, *, trees: int = 6_000, seed: int = 1) -> Path:
    """Make the sample city and write ``city.gpkg`` and ``cycle.toml``.

    Parameters
    ----------
    folder : Path or str
        Made if missing; files of these two names in it are replaced.
    trees : int
        Rows of the tree layer, 200 or more; the town grows with it.
    seed : int
        The same seed and size make the same city.

    Returns
    -------
    Path
        The ``cycle.toml``.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    city = make_city(trees=trees, seed=seed)
    write_city(city, folder / "city.gpkg")
    settings = folder / "cycle.toml"
    settings.write_text(settings_text(trees), encoding="utf-8")
    return settings


def make_city(*, trees: int = 6_000, seed: int = 1) -> City:
    """Make the sample city in memory.

    Parameters
    ----------
    trees : int
        Rows of the tree layer, 200 or more.
    seed : int

    Returns
    -------
    City

    Raises
    ------
    ValueError
        Where ``trees`` is too small for a town.
    """
    if trees < LEAST_TREES:
        raise ValueError(f"a town of {trees} trees is too small; {LEAST_TREES} are the least")
    ground, streets, sites, parks = _make_town(trees, seed)
    random = _streams(seed, "trees history defects requests mistakes")
    grown = make_trees(sites, ground, random["trees"])
    visits = make_visits(grown, random["history"])
    tables = {
        "defects": make_defects(grown, random["defects"]),
        "visits": visits,
        "requests": make_requests(grown, visits, random["requests"]),
    }
    spoiled = make_mistakes(grown, random["mistakes"]).drop(columns="planted_year")
    layers = {
        "trees": spoiled,
        "streets": _street_layer(streets),
        "wards": make_wards(ground),
        "depots": make_depots(ground, depot_names(trees)),
        "parks": parks,
        "water": gpd.GeoDataFrame({"water": ["Quell"]}, geometry=[ground.river], crs=CRS),
    }
    return City(layers, tables)


def write_city(city: City, path: Path) -> None:
    """Write a GeoPackage, replacing what was there.

    Parameters
    ----------
    city : City
    path : Path
    """
    path.unlink(missing_ok=True)
    for name, layer in city.layers.items():
        pyogrio.write_dataframe(layer, path, layer=name, driver="GPKG")
    for name, table in city.tables.items():
        pyogrio.write_dataframe(table, path, layer=name, driver="GPKG")


def _streams(seed: int, names: str) -> dict[str, Random]:
    """Give every part its own random numbers, so that none disturbs the others."""
    words = names.split()
    return {word: np.random.default_rng([seed, *word.encode("ascii")]) for word in words}


def _make_town(trees: int, seed: int) -> tuple[Ground, Streets, Sites, gpd.GeoDataFrame]:
    """Lay out a town that is just large enough for its trees."""
    half = np.sqrt(trees / TREES_PER_LATTICE_POINT)
    while True:
        random = _streams(seed, "ground streets planting parks thinning")
        ground = make_ground(float(half), random["ground"])
        streets = make_streets(ground, random["streets"])
        names = street_names(len(ground.parks), random["parks"])
        names = np.array([name.rsplit(" ", 1)[0] + " Park" for name in names], dtype=object)
        in_parks = park_sites(ground, names, random["parks"])
        most = int(MOST_PARK_SHARE * trees)
        if len(in_parks) > most:
            in_parks = in_parks.keep(_sample(len(in_parks), most, random["thinning"]))
        along = street_sites(streets, random["planting"])
        needed = trees - len(in_parks)
        if len(along) >= needed:
            break
        half *= 1.02 * np.sqrt(needed / len(along))
    along = along.keep(_sample(len(along), needed, random["thinning"]))
    parks = gpd.GeoDataFrame({"park": names}, geometry=ground.parks, crs=CRS)
    return ground, streets, join_sites(along, in_parks), parks


def _sample(total: int, wanted: int, random: Random) -> Integers:
    chosen: Integers = np.sort(random.choice(total, wanted, replace=False))
    return chosen


def _street_layer(streets: Streets) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "street": streets.street,
            "one_way": streets.one_way,
            "speed_kmh": streets.speed_kmh,
        },
        geometry=streets.line,
        crs=CRS,
    )
