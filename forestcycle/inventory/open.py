"""Open a city's inventory: read, convert, check, and report every fault at once."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import TypeVar

import geopandas as gpd
import pandas as pd
import pyproj

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.check import check_trees
from forestcycle.inventory.database import Database
from forestcycle.inventory.ground import read_areas, read_depots, read_streets, wards_of
from forestcycle.inventory.layer import Layer, LayerInfo
from forestcycle.inventory.read import layer_info, list_layers, read_layer, require_fields
from forestcycle.inventory.records import RECORD_KINDS, read_records
from forestcycle.inventory.schema import VISIT, Inventory, empty_table
from forestcycle.inventory.set_aside import join_set_aside
from forestcycle.inventory.source import (
    Source,
    Table,
    books_path,
    inventory_place,
    layer_of,
    locate,
    sha256_of,
)
from forestcycle.inventory.tables import sha256_of_layer
from forestcycle.inventory.units import US_LENGTHS
from forestcycle.progress import Progress, Step, silent
from forestcycle.settings import CycleSettings

Result = TypeVar("Result")
Ground = tuple[gpd.GeoDataFrame, pd.DataFrame]

COORDINATES = ("longitude", "latitude")
IN_BOOKS = ("visits", "defects")


def open_inventory(
    settings: CycleSettings,
    folder: Path,
    *,
    known_species: Iterable[str] = (),
    largest_dbh_cm: Mapping[str, float] | None = None,
    progress: Progress = silent,
) -> Inventory:
    """Open the inventory that the settings describe.

    Parameters
    ----------
    settings : CycleSettings
    folder : Path
        Where the settings file lies; file names start there.
    known_species : iterable of str
        Names that the practice tables have.
    largest_dbh_cm : mapping of str to float, optional
        Species to the diameter beyond which a figure is absurd.
    progress : callable

    Returns
    -------
    Inventory

    Raises
    ------
    InventoryError
        Once, with the faults of all layers.
    """
    place = inventory_place(settings.city.inventory, folder)
    faults: list[Fault] = []
    progress(Step("reading trees"))
    info = layer_info(layer_of(place, settings.layers.trees))
    layer = read_layer(info, fields=_mapped_fields(info, settings))
    if not len(layer.table):
        raise InventoryError(Fault("holds no rows", str(info.source), "choose another layer"))
    progress(Step("checking trees", 0, len(layer.table)))
    trees, set_aside = check_trees(
        layer,
        settings.trees,
        settings.city,
        known_species=known_species,
        largest_dbh_cm=largest_dbh_cm,
    )
    tables = [set_aside]
    ground = _read_ground(settings, folder, place, trees.crs, faults, tables)
    records = _read_records(settings, folder, place, trees["tree_id"], faults, tables)
    if faults:
        raise InventoryError(faults)
    if ground["wards"] is not None:
        trees["ward"] = wards_of(trees, ground["wards"])
    return Inventory(
        trees=trees,
        set_aside=join_set_aside(tables),
        defects=records["defects"],
        visits=records["visits"],
        requests=records["requests"],
        streets=ground["streets"],
        wards=ground["wards"],
        depots=ground["depots"],
        parks=ground["parks"],
        rows_read=len(layer.table),
        source=place,
        sha256=sha256_of_layer(layer) if isinstance(place, Database) else sha256_of(place),
    )


def _mapped_fields(info: LayerInfo, settings: CycleSettings) -> list[str]:
    """List the fields to read, having checked that all of them are there."""
    mapped = settings.trees.fields.model_dump(exclude_none=True)
    if info.geometry_type is not None:
        mapped = {key: name for key, name in mapped.items() if key not in COORDINATES} | {
            key: name for key, name in mapped.items() if key in COORDINATES and name in info.fields
        }
    faults = require_fields(info, {f"trees.fields.{key}": name for key, name in mapped.items()})
    if faults:
        raise InventoryError(faults)
    return list(dict.fromkeys(mapped.values()))


def _read_through(
    source: Source | Table, read: Callable[[Layer], Result], faults: list[Fault]
) -> Result | None:
    """Read a layer, or keep its faults and read on, to report all of them at once."""
    try:
        return read(read_layer(layer_info(source)))
    except InventoryError as error:
        faults.extend(error.faults)
        return None


def _read_ground(
    settings: CycleSettings,
    folder: Path,
    place: Path | Database,
    crs: pyproj.CRS,
    faults: list[Fault],
    tables: list[pd.DataFrame],
) -> dict[str, gpd.GeoDataFrame | None]:
    setting = settings.city.source_crs
    in_mph = settings.trees.units.dbh in US_LENGTHS
    readers: dict[str, Callable[[Layer], Ground]] = {
        "streets": partial(read_streets, crs=crs, setting=setting, speeds_in_mph=in_mph),
        "wards": partial(read_areas, crs=crs, setting=setting, name="ward"),
        "depots": partial(read_depots, crs=crs, setting=setting),
        "parks": partial(read_areas, crs=crs, setting=setting, name="park"),
    }
    ground: dict[str, gpd.GeoDataFrame | None] = dict.fromkeys(readers)
    for name, reader in readers.items():
        wanted = getattr(settings.layers, name)
        if wanted is not None:
            read = _read_through(locate(wanted, folder, place), reader, faults)
            if read is not None:
                ground[name], aside = read
                tables.append(aside)
    return ground


def _read_records(
    settings: CycleSettings,
    folder: Path,
    place: Path | Database,
    tree_ids: pd.Series,
    faults: list[Fault],
    tables: list[pd.DataFrame],
) -> dict[str, pd.DataFrame]:
    records = {name: empty_table(kind.columns) for name, kind in RECORD_KINDS.items()}
    id_field = settings.trees.fields.tree_id
    for name, known in records.items():
        reader = partial(read_records, name, tree_id_field=id_field, tree_ids=tree_ids)
        parts = [known]
        for source in _record_sources(name, settings, folder, place):
            read = _read_through(source, reader, faults)
            if read is not None:
                parts.append(read[0])
                tables.append(read[1])
        if name == "visits":
            parts = _each_visit_once(parts)
        filled = [part for part in parts if len(part)]
        records[name] = pd.concat(filled, ignore_index=True) if filled else known
    return records


def _each_visit_once(parts: list[pd.DataFrame]) -> list[pd.DataFrame]:
    """Leave out visits of the books that the city has taken over into its own table."""
    *own, told = parts
    if not own:
        return parts
    known = pd.MultiIndex.from_frame(pd.concat([part[VISIT] for part in own]))
    return [*own, told[~pd.MultiIndex.from_frame(told[VISIT]).isin(known)]]


def _record_sources(
    name: str, settings: CycleSettings, folder: Path, place: Path | Database
) -> Iterator[Source | Table]:
    """List where records of a kind lie; visits and defects that crews told stand in the books."""
    wanted = getattr(settings.layers, name)
    if wanted is not None:
        yield locate(wanted, folder, place)
    books = books_path(settings, folder)
    if name in IN_BOOKS and books.exists() and name in list_layers(Source(books)):
        yield Source(books, name)
