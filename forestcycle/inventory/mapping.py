"""Propose which of the city's fields is which, from their names and values."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.inventory.convert import numbers, text
from forestcycle.inventory.layer import Layer, LayerInfo
from forestcycle.inventory.meanings import propose_meanings, share_understood
from forestcycle.inventory.species import doubtful_names, parse_name
from forestcycle.inventory.units import propose_units

Certainty = Literal["sure", "likely", "guess"]

NAMES: Mapping[str, str] = {
    "tree_id": "tree_id treeid tree_no tree_number tree_num tree_nr asset_id assetid inventory_id "
    "unique_id uniqueid site_id globalid uuid objectid object_id ogc_fid fid id",
    "species": "scientific scientific_name sci_name scientificname botanical botanical_name "
    "botanicalname latin latin_name spc_latin species_latin taxon species species_name spp",
    "common_name": "common common_name commonname spc_common species_common vernacular_name",
    "dbh": "dbh tree_dbh diameter_at_breast_height diameter_breast_height trunk_diameter "
    "trunk_diam trunk_dia stem_diameter stem_diam stem_dia tree_diameter diameter diam dia",
    "height": "height tree_height treeheight ht",
    "crown_diameter": "crown_diameter crown_diam crown_width crown_spread canopy_width "
    "canopy_spread canopy_diameter spread",
    "condition": "condition tree_condition health tree_health cond vigor vigour",
    "status": "status tree_status treestatus site_status",
    "planted_on": "planted_on date_planted plant_date planting_date planted_date year_planted "
    "plant_year planting_year planted",
    "conductors": "conductors overhead_conductors wires overhead_wires overhead_lines powerlines "
    "power_lines utility_lines overhead_utilities overhead_utility utilities utility",
    "site_width": "site_width planting_width strip_width planter_width parkway_width "
    "treelawn_width tree_lawn_width growing_space_width",
    "target": "target",
    "fund": "fund fund_code funding budget budget_code",
    "street": "street street_name streetname st_name on_street road road_name",
    "address": "address full_address site_address street_address location_address",
    "ward": "ward council_district district neighborhood neighbourhood borough precinct",
    "longitude": "longitude lon lng long x_coord xcoord point_x easting x",
    "latitude": "latitude lat y_coord ycoord point_y northing y",
}
"""Common English names of each field, the surest first (common practice)."""
UNIT_ENDINGS: Mapping[str, str] = {
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "metres": "m",
    "meters": "m",
    "in": "in",
    "inch": "in",
    "inches": "in",
    "ft": "ft",
    "feet": "ft",
}
NUMBERS = ("dbh", "height", "crown_diameter", "site_width", "longitude", "latitude")
LENGTHS = ("dbh", "height", "crown_diameter", "site_width")
SAMPLE_ROWS = 20_000
SHAPEFILE_LETTERS = 10
"""A Shapefile cuts longer names of fields (dBASE III)."""
LEAST_UNDERSTOOD = 0.3
"""Share of a column's words that must have a likely meaning."""


@dataclass(frozen=True)
class Guess:
    """One proposed setting.

    Attributes
    ----------
    value : str
    certainty : str
        ``sure``, ``likely`` or ``guess``.
    why : str
    """

    value: str
    certainty: Certainty
    why: str


@dataclass(frozen=True)
class Proposal:
    """A proposed mapping of the tree layer.

    Attributes
    ----------
    fields, units : dict of str to Guess
        By our name.
    values : dict of str to dict of str to str
        The city's word to ours, by our field.
    open_words : dict of str to list of str
        Words that someone must decide on.
    source_crs : Guess or None
        Where the file does not say its CRS.
    suggestions : dict of str to dict of str to str
        What some of the open words may mean, by our field.
    """

    fields: dict[str, Guess]
    units: dict[str, Guess]
    values: dict[str, dict[str, str]]
    open_words: dict[str, list[str]]
    source_crs: Guess | None = None
    suggestions: dict[str, dict[str, str]] = field(default_factory=dict)


def propose_mapping(
    info: LayerInfo,
    layer: Layer,
    *,
    longitude: float | None = None,
    latitude: float | None = None,
    known_species: Iterable[str] = (),
) -> Proposal:
    """Propose fields, units, words and CRS of a tree layer.

    Parameters
    ----------
    info : LayerInfo
    layer : Layer
        All its fields.
    longitude, latitude : float, optional
        Where the city lies, if the layer's geometry tells.
    known_species : iterable of str, optional
        Names that the tables have.

    Returns
    -------
    Proposal
    """
    sample = _sample(layer.table)
    fields = _propose_fields(info, layer, sample)
    if longitude is None and "longitude" in fields and "latitude" in fields:
        longitude = _median(sample[fields["longitude"].value])
        latitude = _median(sample[fields["latitude"].value])
    columns = {key: sample[fields[key].value] for key in LENGTHS if key in fields}
    said = {key: _unit_in_name(fields[key].value) for key in columns}
    units = {
        key: Guess(unit, "sure" if said[key] else "likely" if surely else "guess", why)
        for key, (unit, surely, why) in propose_units(columns, said, longitude, latitude).items()
    }
    values: dict[str, dict[str, str]] = {}
    open_words: dict[str, list[str]] = {}
    for key in ("condition", "conductors", "status"):
        if key in fields:
            values[key], open_words[key] = propose_meanings(key, layer.table[fields[key].value])
    suggestions: dict[str, dict[str, str]] = {}
    if "species" in fields and known_species:
        names = doubtful_names(layer.table[fields["species"].value], known_species)
        values["species"], open_words["species"] = {}, list(names)
        suggestions["species"] = names
    crs = _propose_crs(layer, longitude, latitude)
    return Proposal(fields, units, values, open_words, crs, suggestions)


def _sample(table: pd.DataFrame) -> pd.DataFrame:
    """Take rows from all over the table, the same each time."""
    step = max(1, len(table) // SAMPLE_ROWS)
    return table.iloc[::step]


def _propose_fields(info: LayerInfo, layer: Layer, sample: pd.DataFrame) -> dict[str, Guess]:
    plain = {str(name): plain_name(str(name)) for name in info.fields}
    found: dict[str, Guess] = {}
    taken: set[str] = set()
    for key, names in NAMES.items():
        if key in ("longitude", "latitude") and layer.geometry is not None:
            continue
        candidates = _candidates(names.split(), plain, taken)
        for name, exact in candidates:
            column = layer.table[name] if key == "tree_id" else sample[name]
            doubt = CHECKS.get(key, _no_doubt)(column)
            if not doubt:
                certainty: Certainty = "sure" if exact else "likely"
                found[key] = Guess(name, certainty, f"named {name!r}")
                taken.add(name)
                break
    if "species" not in found:
        found |= _species_by_values(sample, taken)
    return found


def _candidates(
    names: Sequence[str], plain: Mapping[str, str], taken: set[str]
) -> list[tuple[str, bool]]:
    """List fields by how early their name, with or without a unit, is in the list."""
    cut = [name[:SHAPEFILE_LETTERS].rstrip("_") for name in names]
    ranked = []
    for name, simple in plain.items():
        without_unit = _without_unit(simple)
        if name in taken:
            continue
        if simple in names:
            ranked.append((names.index(simple), name, True))
        elif without_unit in names:
            ranked.append((names.index(without_unit), name, True))
        elif len(name) == SHAPEFILE_LETTERS and simple in cut:
            ranked.append((cut.index(simple), name, True))
        elif _ends_with_one(simple, names):
            ranked.append((len(names), name, False))
    return [(name, exact) for _, name, exact in sorted(ranked)]


def _ends_with_one(simple: str, names: Sequence[str]) -> bool:
    """Accept a longer name that contains a telling one as whole words."""
    padded = f"_{simple}_"
    return any(f"_{name}_" in padded for name in names if len(name) >= 6)


def plain_name(name: str) -> str:
    """Write a field name in small letters with underscores.

    Parameters
    ----------
    name : str
        Such as ``TreeID``, ``Crown Width (ft)``.

    Returns
    -------
    str
        Such as ``tree_id``, ``crown_width_ft``.
    """
    spaced = re.sub(r"([a-z0-9])([A-Z])", r"\1_\2", name)
    return re.sub(r"[^a-z0-9]+", "_", spaced.casefold()).strip("_")


def _without_unit(simple: str) -> str:
    head, _, ending = simple.rpartition("_")
    return head if ending in UNIT_ENDINGS and head else simple


def _unit_in_name(name: str) -> str | None:
    return (
        UNIT_ENDINGS.get(plain_name(name).rpartition("_")[2]) if "_" in plain_name(name) else None
    )


def _no_doubt(column: pd.Series) -> bool:
    return bool((text(column) == "").all())


def _not_numbers(column: pd.Series) -> bool:
    values, is_text = numbers(column)
    return int(np.isfinite(values).sum()) <= int(is_text.sum())


def _not_unique(column: pd.Series) -> bool:
    cells = text(column)
    return bool((cells == "").mean() > 0.01 or cells.duplicated().mean() > 0.01)


def _not_scientific(column: pd.Series) -> bool:
    return _scientific_share(column) < 0.5


def _scientific_share(column: pd.Series) -> float:
    """Tell the share of distinct cells with a genus and more, which codes do not have."""
    cells = [cell for cell in text(column).unique() if cell][:500]
    good = sum(" " in cell and bool(parse_name(cell).genus) for cell in cells)
    genera = sum(bool(parse_name(cell).genus) and cell[1:] == cell[1:].lower() for cell in cells)
    return float(max(good, genera) / max(len(cells), 1))


def _not_understood(key: str) -> Callable[[pd.Series], bool]:
    return lambda column: share_understood(key, column) < LEAST_UNDERSTOOD


CHECKS: Mapping[str, Callable[[pd.Series], bool]] = {
    "tree_id": _not_unique,
    "species": _not_scientific,
    **{key: _not_understood(key) for key in ("condition", "status")},
    **dict.fromkeys(NUMBERS, _not_numbers),
}


def _species_by_values(sample: pd.DataFrame, taken: set[str]) -> dict[str, Guess]:
    for name in sample.columns:
        if name in taken or pd.api.types.is_numeric_dtype(sample[name]):
            continue
        cells = [cell for cell in text(sample[name]).unique() if cell][:500]
        parsed = [parse_name(cell) for cell in cells]
        share = sum(bool(name.epithet) and name.surely for name in parsed) / max(len(cells), 1)
        if share > 0.6:
            return {"species": Guess(str(name), "guess", f"{share:.0%} read as scientific names")}
    return {}


def _median(column: pd.Series) -> float | None:
    values: npt.NDArray[np.float64] = numbers(column)[0]
    return float(np.nanmedian(values)) if np.isfinite(values).any() else None


def _propose_crs(layer: Layer, x: float | None, y: float | None) -> Guess | None:
    if layer.crs is not None or x is None or y is None:
        return None
    if abs(x) <= 180 and abs(y) <= 90:
        return Guess("EPSG:4326", "likely", "the coordinates read as degrees")
    return None
