"""Look at an unknown inventory: what it holds, how to map it, what cannot be used."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyproj
import shapely

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.crs import WGS84, middle
from forestcycle.inventory.layer import Layer, LayerInfo
from forestcycle.inventory.mapping import Proposal, propose_mapping
from forestcycle.inventory.open import open_inventory
from forestcycle.inventory.read import layer_info, list_layers, read_layer
from forestcycle.inventory.schema import Inventory
from forestcycle.inventory.source import Source, Table, inventory_place, layer_of
from forestcycle.inventory.units import US_LENGTHS
from forestcycle.progress import Progress, Step, silent
from forestcycle.settings import CycleSettings

LAYER_NAMES = {
    "streets": ("street", "road", "centerline", "centreline"),
    "wards": ("ward", "district", "neighborhood", "neighbourhood", "borough"),
    "depots": ("depot", "yard"),
    "parks": ("park",),
    "defects": ("defect",),
    "visits": ("visit", "pruning", "pruned"),
    "requests": ("request",),
}
GEOMETRY = {"streets": "Line", "wards": "Polygon", "depots": "Point", "parks": "Polygon"}


@dataclass(frozen=True)
class Findings:
    """What an inspection found.

    Attributes
    ----------
    source : Source or Table
    rows : int
        In the tree layer.
    layers : dict of str to (str or None)
        All layers of the file or database with their geometry types; empty for delimited text.
    crs : str
        Name of the CRS of the coordinates; empty where nobody says.
    extent : tuple of float or None
        West, south, east, north of the usable trees, in degrees of WGS 84.
    proposal : Proposal or None
        None where the settings were given.
    settings : CycleSettings or None
        With the proposed mapping, or as given; None where none can be made.
    inventory : Inventory or None
        None where it does not open with these settings.
    faults : tuple of Fault
        Why it does not open.
    """

    source: Source | Table
    rows: int
    layers: dict[str, str | None]
    crs: str
    extent: tuple[float, float, float, float] | None
    proposal: Proposal | None
    settings: CycleSettings | None
    inventory: Inventory | None
    faults: tuple[Fault, ...]

    @property
    def usable(self) -> int:
        """How many trees can be planned."""
        return 0 if self.inventory is None else len(self.inventory.trees)

    def reasons(self) -> pd.DataFrame:
        """Count what was set aside.

        Returns
        -------
        DataFrame
            ``layer fault used rows``, the most frequent first.
        """
        keys = ["layer", "fault", "used"]
        if self.inventory is None:
            return pd.DataFrame(columns=[*keys, "rows"])
        counted = self.inventory.set_aside.groupby(keys, as_index=False, observed=True).size()
        counted = counted.rename(columns={"size": "rows"})
        return counted.sort_values(["rows", "fault"], ascending=[False, True], ignore_index=True)


def inspect_file(
    path: Path | str,
    *,
    layer: str | None = None,
    known_species: Iterable[str] = (),
    largest_dbh_cm: Mapping[str, float] | None = None,
    today: date | None = None,
    progress: Progress = silent,
) -> Findings:
    """Look at a file or database nobody has described yet.

    Parameters
    ----------
    path : Path or str
        A file, or the address of a database.
    layer : str, optional
        The tree layer; the first with points by default.
    known_species : iterable of str
        Names that the practice tables have.
    largest_dbh_cm : mapping of str to float, optional
        Species to the diameter beyond which a figure is absurd.
    today : date, optional
        The proposed plan covers the calendar year after it.
    progress : callable

    Returns
    -------
    Findings
        With ``faults`` where the file opens only after someone has decided
        something, such as its CRS.

    Raises
    ------
    InventoryError
        The file or layer cannot be read at all, or has no rows.
    """
    source = layer_of(inventory_place(str(path), Path()), layer)
    progress(Step("looking at the layers"))
    layers = list_layers(source)
    info = layer_info(source)
    raw = read_layer(info)
    if not len(raw.table):
        raise InventoryError(Fault("holds no rows", str(info.source), "choose another layer"))
    longitude, latitude = _middle(raw)
    proposal = propose_mapping(
        info, raw, longitude=longitude, latitude=latitude, known_species=known_species
    )
    settings = CycleSettings.model_validate(
        _settings(info, layers, proposal, today or datetime.now(UTC).date())
    )
    crs = raw.crs.name if raw.crs is not None else ""
    if proposal.source_crs is not None:
        crs = pyproj.CRS.from_user_input(proposal.source_crs.value).name
    inventory, faults = _try_to_open(
        settings, _folder_of(source), known_species, largest_dbh_cm, progress
    )
    return Findings(
        info.source,
        len(raw.table),
        layers,
        crs,
        _extent_of(inventory),
        proposal,
        settings,
        inventory,
        faults,
    )


def inspect_city(
    settings: CycleSettings,
    folder: Path,
    *,
    known_species: Iterable[str] = (),
    largest_dbh_cm: Mapping[str, float] | None = None,
    progress: Progress = silent,
) -> Findings:
    """Look at an inventory as its settings describe it.

    Parameters
    ----------
    settings : CycleSettings
    folder : Path
        Of the settings file.
    known_species : iterable of str
    largest_dbh_cm : mapping of str to float, optional
    progress : callable

    Returns
    -------
    Findings

    Raises
    ------
    InventoryError
        With every fault of it.
    """
    inventory = open_inventory(
        settings,
        folder,
        known_species=known_species,
        largest_dbh_cm=largest_dbh_cm,
        progress=progress,
    )
    source = layer_of(inventory_place(settings.city.inventory, folder), settings.layers.trees)
    info = layer_info(source)
    return Findings(
        info.source,
        inventory.rows_read,
        list_layers(source),
        "" if inventory.trees.crs is None else str(inventory.trees.crs.name),
        _extent_of(inventory),
        None,
        settings,
        inventory,
        (),
    )


def _try_to_open(
    settings: CycleSettings,
    folder: Path,
    known: Iterable[str],
    largest: Mapping[str, float] | None,
    progress: Progress,
) -> tuple[Inventory | None, tuple[Fault, ...]]:
    try:
        inventory = open_inventory(
            settings, folder, known_species=known, largest_dbh_cm=largest, progress=progress
        )
    except InventoryError as error:
        return None, error.faults
    return inventory, ()


def _settings(
    info: LayerInfo, layers: dict[str, str | None], proposal: Proposal, today: date
) -> dict[str, Any]:
    """Lay out the proposed settings as ``cycle.toml`` would."""
    year = today.year + 1
    inventory, name = _names(info.source)
    city: dict[str, Any] = {
        "name": name.replace("_", " ").strip() or "Our city",
        "inventory": inventory,
        "year_start": date(year, 1, 1),
        "year_end": date(year, 12, 31),
    }
    if proposal.source_crs is not None:
        city["source_crs"] = proposal.source_crs.value
    crews = [
        {"name": f"Crew {number}", "skills": ["ground", "climb", "lift"]} for number in (1, 2, 3)
    ]
    trees = {
        "fields": {key: guess.value for key, guess in proposal.fields.items()},
        "units": {key: guess.value for key, guess in proposal.units.items()},
        "values": {key: words for key, words in proposal.values.items() if words},
    }
    in_us_units = "dbh" in proposal.units and proposal.units["dbh"].value in US_LENGTHS
    return {
        "city": city,
        "layers": _name_layers(info, layers),
        "trees": trees,
        "crews": crews,
        "publish": {"paper": "Letter", "units": "us"} if in_us_units else {},
    }


def _folder_of(source: Source | Table) -> Path:
    return source.path.parent if isinstance(source, Source) else Path()


def _names(source: Source | Table) -> tuple[str, str]:
    """Return what to call the inventory in the settings, and the city after it."""
    if isinstance(source, Table):
        return source.database.address, source.database.name
    return source.path.name, source.path.name.split(".")[0]


def _name_layers(info: LayerInfo, layers: dict[str, str | None]) -> dict[str, str]:
    named = {"trees": info.source.layer} if info.source.layer is not None else {}
    for key, words in LAYER_NAMES.items():
        for layer, kind in layers.items():
            fits = GEOMETRY[key] in (kind or "") if key in GEOMETRY else kind is None
            taken = layer in named.values()
            if fits and not taken and any(word in layer.casefold() for word in words):
                named[key] = layer
                break
    return named


def _middle(layer: Layer) -> tuple[float | None, float | None]:
    """Find where the layer lies, in degrees, if its geometry tells."""
    if layer.geometry is None or layer.crs is None:
        return None, None
    bounds = shapely.bounds(layer.geometry)
    bounds = bounds[np.isfinite(bounds).all(axis=1)]
    if not len(bounds):
        return None, None
    longitude, latitude = middle(layer.crs.to_2d(), bounds[:, 0], bounds[:, 1])
    known = np.isfinite(longitude) and np.isfinite(latitude)
    return (longitude, latitude) if known else (None, None)


def _extent_of(inventory: Inventory | None) -> tuple[float, float, float, float] | None:
    if inventory is None:
        return None
    west, south, east, north = inventory.trees.to_crs(WGS84).total_bounds.tolist()
    return west, south, east, north
