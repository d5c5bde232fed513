"""Tables about trees: observed defects, past visits, requests."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.convert import dates, numbers, text
from forestcycle.inventory.layer import Layer
from forestcycle.inventory.schema import (
    DATE,
    DEFECT_COLUMNS,
    FLOAT,
    REQUEST_COLUMNS,
    TRUTH,
    VISIT_COLUMNS,
    Columns,
)
from forestcycle.inventory.set_aside import SetAside

Mask = npt.NDArray[np.bool_]

TRUE_WORDS = frozenset({"1", "1.0", "true", "t", "yes", "y"})
FALSE_WORDS = frozenset({"0", "0.0", "false", "f", "no", "n", ""})


@dataclass(frozen=True)
class RecordKind:
    """What a table of records must hold.

    Attributes
    ----------
    columns : mapping of str to dtype
    also_named : mapping of str to tuple of str
        Other names that a column may have.
    needed : tuple of str
        Columns without which the table, or a row of it, says nothing.
    ranges : mapping of str to (float, float)
        Least and most of a number; beyond it the number is set aside.
    """

    columns: Columns
    also_named: Mapping[str, tuple[str, ...]]
    needed: tuple[str, ...]
    ranges: Mapping[str, tuple[float, float]]


RECORD_KINDS: Mapping[str, RecordKind] = {
    "defects": RecordKind(
        DEFECT_COLUMNS,
        {
            "observed_on": ("date", "observed", "inspected_on", "inspection_date"),
            "defect": ("defect_type", "type", "kind"),
            "note": ("notes", "comment", "comments", "remarks"),
        },
        ("tree_id", "defect"),
        {},
    ),
    "visits": RecordKind(
        VISIT_COLUMNS,
        {
            "visited_on": ("date", "visited", "pruned_on", "visit_date", "prune_date"),
            "note": ("notes", "comment", "comments", "remarks"),
        },
        ("tree_id", "visited_on"),
        {"dose": (0.0, 1.0), "minutes": (0.0, 100_000.0)},
    ),
    "requests": RecordKind(
        REQUEST_COLUMNS,
        {
            "requested_on": ("date", "requested", "request_date"),
            "deadline": ("due", "due_on", "due_date"),
            "note": ("notes", "comment", "comments", "remarks"),
        },
        ("tree_id",),
        {},
    ),
}


def read_records(
    name: str, layer: Layer, tree_id_field: str | None, tree_ids: pd.Series
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Bring a table of records into our columns.

    Parameters
    ----------
    name : str
        ``defects``, ``visits`` or ``requests``.
    layer : Layer
    tree_id_field : str or None
        The tree layer's name for the id, which the table may use too.
    tree_ids : Series of str
        Ids of the usable trees.

    Returns
    -------
    records : DataFrame
        The columns of the kind, by tree as in the file.
    set_aside : DataFrame
        Rows whose tree or date cannot be used, and single fields.

    Raises
    ------
    InventoryError
        A needed column is missing.
    """
    kind = RECORD_KINDS[name]
    found = {column: _find(column, kind, layer, tree_id_field) for column in kind.columns}
    missing = [column for column in kind.needed if found[column] is None]
    if missing:
        there = ", ".join(map(str, layer.table.columns))
        raise InventoryError(
            [
                Fault(f"no column {column!r}", str(layer.source), f"columns there: {there}")
                for column in missing
            ]
        )
    raw = {
        column: pd.Series("", index=layer.table.index, dtype="str")
        if there is None
        else layer.table[there]
        for column, there in found.items()
    }
    ids = text(raw["tree_id"])
    aside = SetAside(name, ids)
    strange = (~ids.isin(tree_ids)).to_numpy(dtype=bool)
    aside.add(strange, "tree_id", ids, "no usable tree with this id", "correct the id, or its tree")
    table = pd.DataFrame({"tree_id": ids})
    for column, dtype in kind.columns.items():
        if column != "tree_id":
            table[column] = _convert(column, raw[column], dtype, kind, aside)
    kept = table.loc[~aside.dropped].reset_index(drop=True).astype(dict(kind.columns))
    return kept, aside.table()


def _find(column: str, kind: RecordKind, layer: Layer, tree_id_field: str | None) -> str | None:
    there = {str(name).casefold(): str(name) for name in layer.table.columns}
    names = [column, *kind.also_named.get(column, ())]
    if column == "tree_id":
        names += [tree_id_field or "tree_id", "treeid", "tree"]
    return next((there[name.casefold()] for name in names if name.casefold() in there), None)


def _convert(
    column: str, raw: pd.Series, dtype: object, kind: RecordKind, aside: SetAside
) -> pd.Series:
    needed = column in kind.needed
    if dtype == DATE:
        values, bad = dates(raw)
        wrong = bad | (values.isna().to_numpy(dtype=bool) if needed else False)
        remedy = "write the date as 2024-03-15"
        aside.add(wrong, column, raw, "date missing or not understood", remedy, used=not needed)
        return values
    if dtype == FLOAT:
        return _number(column, raw, kind, aside)
    cells = text(raw)
    if dtype == TRUTH:
        lowered = cells.str.casefold()
        bad = (~lowered.isin(TRUE_WORDS | FALSE_WORDS)).to_numpy(dtype=bool)
        aside.add(bad, column, raw, "neither yes nor no", "write yes or no", used=True)
        return lowered.isin(TRUE_WORDS)
    if needed:
        empty = (cells == "").to_numpy(dtype=bool)
        aside.add(empty, column, raw, f"{column} missing", "fill it in")
    return cells


def _number(column: str, raw: pd.Series, kind: RecordKind, aside: SetAside) -> pd.Series:
    """Read a number; without it the record stays, because a visit sets the recall anyway."""
    values, is_text = numbers(raw)
    least, most = kind.ranges.get(column, (-np.inf, np.inf))
    beyond = (values < least) | (values > most)
    aside.add(is_text, column, raw, f"{column} not a number", "write a number", used=True)
    remedy = f"write a number from {least:g} to {most:g}"
    aside.add(beyond, column, raw, f"{column} out of range", remedy, used=True)
    return pd.Series(np.where(beyond, np.nan, values), index=raw.index)
