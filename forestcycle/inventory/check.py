"""Check every tree: what cannot be used is set aside with its reason and counted."""

from collections.abc import Iterable, Mapping

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.convert import centimetres, dates, metres, numbers, text, words
from forestcycle.inventory.layer import Layer
from forestcycle.inventory.places import Places, place_trees, require_some_numbers
from forestcycle.inventory.schema import (
    CONDITIONS,
    CONDUCTORS,
    STATUSES,
    TARGETS,
    TREE_COLUMNS,
    UNKNOWN,
)
from forestcycle.inventory.set_aside import SetAside
from forestcycle.inventory.species import read_species
from forestcycle.settings.city import City
from forestcycle.settings.fields import Trees

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

LARGEST_DBH_CM = 500.0
"""No street tree is as stout; beyond it stands a typing error or another unit (our ceiling)."""
SMALLEST_DBH_CM = 0.1
"""Whoever measures a trunk writes no less; thinner is an error, and no ratio to it means much."""
SMALLEST_METRES = {"height": 0.1, "crown_diameter": 0.1, "site_width": 0.0}
LARGEST_METRES = {"height": 130.0, "crown_diameter": 100.0, "site_width": 1_000.0}
"""Beyond the tallest and widest trees on record (from memory) stands an error (our limits)."""
MOST_REPEATED_IDS = 0.1


def check_trees(
    layer: Layer,
    trees: Trees,
    city: City,
    *,
    known_species: Iterable[str] = (),
    largest_dbh_cm: Mapping[str, float] | None = None,
) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Turn the city's rows into trees, and set aside those that cannot be used.

    Parameters
    ----------
    layer : Layer
        The tree layer as the file has it.
    trees : Trees
        Field mapping, units and words.
    city : City
        Its CRS settings.
    known_species : iterable of str
        Names that the tables have; none: every well-formed name passes.
    largest_dbh_cm : mapping of str to float, optional
        Species to the diameter beyond which a figure is absurd; 500 cm where
        a species is not in it.

    Returns
    -------
    trees : GeoDataFrame
        ``TREE_COLUMNS`` and points, index 0..n-1.
    set_aside : DataFrame
        ``SET_ASIDE_COLUMNS``. Rows read = trees + distinct rows not used.

    Raises
    ------
    InventoryError
        A mapped column holds nothing of the kind, no CRS, or no usable tree.
    """
    ids = _ids(layer, trees)
    aside = SetAside("trees", ids)
    table = pd.DataFrame({"tree_id": ids})
    places = _place(layer, trees, city, aside)
    _check_ids(ids, layer, trees, aside)
    _read_species(table, layer, trees, known_species, aside)
    _read_diameter(table, layer, trees, largest_dbh_cm or {}, aside)
    _read_lengths(table, layer, trees, aside)
    _read_words(table, layer, trees, aside)
    _read_planting(table, layer, trees, aside)
    for name in ("common_name", "fund", "street", "address", "ward"):
        table[name] = text(_column(layer, getattr(trees.fields, name)))
    _check_places(table, places, aside)
    table["source_row"] = np.arange(len(table), dtype=np.int64)
    return _usable(table, places, aside, layer), aside.table()


def _place(layer: Layer, trees: Trees, city: City, aside: SetAside) -> Places:
    """Place the trees, and say at once what else the settings do not name."""
    unnamed = []
    if trees.fields.dbh is None:
        remedy = "name the diameter's field"
        unnamed = [Fault("trees.fields.dbh is not set", str(layer.source), remedy)]
    try:
        places = place_trees(layer, trees.fields, city, aside)
    except InventoryError as error:
        raise InventoryError([*error.faults, *unnamed]) from None
    if unnamed:
        raise InventoryError(unnamed)
    return places


def _column(layer: Layer, name: str | None) -> pd.Series:
    if name is None:
        return pd.Series("", index=layer.table.index, dtype="str")
    return layer.table[name]


def _ids(layer: Layer, trees: Trees) -> pd.Series:
    if trees.fields.tree_id is None:
        return pd.Series(np.arange(1, len(layer.table) + 1)).astype(str).astype("str")
    return text(layer.table[trees.fields.tree_id])


def _check_ids(ids: pd.Series, layer: Layer, trees: Trees, aside: SetAside) -> None:
    missing = (ids == "").to_numpy(dtype=bool)
    repeated = ids.duplicated().to_numpy(dtype=bool) & ~missing
    if repeated.sum() > MOST_REPEATED_IDS * len(ids):
        raise InventoryError(
            Fault(
                f"{repeated.sum():,} of {len(ids):,} rows repeat a tree id, such as "
                f"{ids[repeated].iloc[0]!r}",
                f"{layer.source}, field {trees.fields.tree_id}",
                "set trees.fields.tree_id to a field that is unique, or leave the key out",
            )
        )
    aside.add(missing, "tree_id", ids, "tree id missing", "give the tree an id of its own")
    remedy = "give each tree an id of its own; the first row with it stays in"
    aside.add(repeated, "tree_id", ids, "tree id repeated", remedy)


def _read_species(
    table: pd.DataFrame, layer: Layer, trees: Trees, known: Iterable[str], aside: SetAside
) -> None:
    if trees.fields.species is None:
        table["species"] = pd.Series(UNKNOWN, index=table.index, dtype="str")
        return
    raw = layer.table[trees.fields.species]
    read = read_species(raw, known=known, meanings=trees.values.species)
    table["species"] = read.species
    remedies = np.full(len(table), "say what it is in trees.values.species", dtype=object)
    suggested = read.suggestion != ""
    remedies[suggested] = "did you mean " + read.suggestion[suggested] + "? " + remedies[suggested]
    aside.add(read.doubtful, "species", raw, "species unknown", remedies, used=True)


def _read_diameter(
    table: pd.DataFrame,
    layer: Layer,
    trees: Trees,
    largest: Mapping[str, float],
    aside: SetAside,
) -> None:
    name = str(trees.fields.dbh)
    raw = layer.table[name]
    values, is_text = numbers(raw)
    require_some_numbers(values, is_text, "trees.fields.dbh", name, layer)
    dbh = centimetres(values, trees.units.dbh)
    ceiling = table["species"].map(dict(largest)).astype(float).fillna(LARGEST_DBH_CM).to_numpy()
    table["dbh_cm"] = dbh
    missing = np.isnan(dbh) & ~is_text
    aside.add(is_text, "dbh", raw, "diameter not a number", "write a number")
    aside.add(missing, "dbh", raw, "diameter missing", "measure it at breast height")
    aside.add(dbh == 0, "dbh", raw, "diameter zero", "measure it at breast height")
    aside.add(dbh < 0, "dbh", raw, "diameter negative", "correct it")
    remedy = f"correct it, or its unit: trees.units.dbh is {trees.units.dbh!r}"
    absurd = (dbh > ceiling) | (dbh > 0) & (dbh < SMALLEST_DBH_CM)
    aside.add(absurd, "dbh", raw, "diameter absurd", remedy)


def _read_lengths(table: pd.DataFrame, layer: Layer, trees: Trees, aside: SetAside) -> None:
    for key, largest in LARGEST_METRES.items():
        name = getattr(trees.fields, key)
        raw = _column(layer, name)
        values, is_text = numbers(raw)
        if name is not None:
            require_some_numbers(values, is_text, f"trees.fields.{key}", name, layer)
        length = metres(values, getattr(trees.units, key))
        least = length < SMALLEST_METRES[key]
        absurd = least & (length != 0) | (length > largest)
        label = key.replace("_", " ")
        aside.add(is_text, key, raw, f"{label} not a number", "write a number", used=True)
        aside.add(absurd, key, raw, f"{label} impossible", "correct it", used=True)
        table[f"{key}_m"] = np.where(absurd | least, np.nan, length)


def _read_words(table: pd.DataFrame, layer: Layer, trees: Trees, aside: SetAside) -> None:
    kinds = {"condition": CONDITIONS, "conductors": CONDUCTORS, "target": TARGETS}
    for key, known in kinds.items():
        raw = _column(layer, getattr(trees.fields, key))
        translated, bad = words(raw, getattr(trees.values, key), known)
        table[key] = translated.where(translated != "", UNKNOWN)
        aside.add(
            bad, key, raw, f"{key} not understood", f"add it to trees.values.{key}", used=True
        )
    condition = _column(layer, trees.fields.condition)
    dead = (table["condition"] == "dead").to_numpy(dtype=bool)
    aside.add(dead, "condition", condition, "tree dead", "plan its removal, not its pruning")
    raw = _column(layer, trees.fields.status)
    translated, bad = words(raw, trees.values.status, STATUSES)
    aside.add(
        bad, "status", raw, "status not understood", "add it to trees.values.status", used=True
    )
    removed = (translated == "removed").to_numpy(dtype=bool)
    aside.add(removed, "status", raw, "tree removed", "nothing to prune")


def _read_planting(table: pd.DataFrame, layer: Layer, trees: Trees, aside: SetAside) -> None:
    raw = _column(layer, trees.fields.planted_on)
    table["planted_on"], bad = dates(raw)
    remedy = "write it as 2024-03-15 or 2024"
    aside.add(bad, "planted_on", raw, "planting date not understood", remedy, used=True)


def _check_places(table: pd.DataFrame, places: Places, aside: SetAside) -> None:
    """Find trees at one and the same point; the first usable one there stays in."""
    open_rows = np.flatnonzero(~aside.dropped & np.isfinite(places.x))
    here = pd.DataFrame(
        {
            "x": places.x[open_rows],
            "y": places.y[open_rows],
            "species": table["species"].to_numpy()[open_rows],
            "dbh_cm": table["dbh_cm"].to_numpy()[open_rows],
        }
    )
    twin = here.duplicated().to_numpy(dtype=bool)
    shares = here.duplicated(["x", "y"]).to_numpy(dtype=bool) & ~twin
    shown = np.full(len(table), "", dtype=object)
    noted = open_rows[twin | shares]
    pairs = zip(places.x[noted], places.y[noted], strict=True)
    shown[noted] = [f"{x:.2f} {y:.2f}" for x, y in pairs]
    twins, sharing = np.zeros((2, len(table)), dtype=bool)
    twins[open_rows[twin]], sharing[open_rows[shares]] = True, True
    fault = "same place, species and diameter as another tree"
    aside.add(twins, "geometry", shown, fault, "remove it if it was entered twice")
    fault = "same place as another tree"
    aside.add(sharing, "geometry", shown, fault, "correct the place", used=True)


def _usable(table: pd.DataFrame, places: Places, aside: SetAside, layer: Layer) -> gpd.GeoDataFrame:
    keep = ~aside.dropped
    if not keep.any():
        reasons = aside.table()["fault"].value_counts().head(3)
        shown = ", ".join(f"{fault} ({count:,})" for fault, count in reasons.items())
        what = f"none of {len(table):,} rows can be used: {shown}"
        raise InventoryError(Fault(what, str(layer.source), "check [trees] in the settings"))
    kept = table.loc[keep, list(TREE_COLUMNS)].reset_index(drop=True).astype(dict(TREE_COLUMNS))
    points = gpd.points_from_xy(places.x[keep], places.y[keep])
    return gpd.GeoDataFrame(kept, geometry=points, crs=places.crs)
