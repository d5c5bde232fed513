"""Facts about trees that cannot be used, in the layout of ``Inventory.set_aside``."""

from collections.abc import Sequence

import pandas as pd

from forestcycle.inventory.schema import SET_ASIDE_COLUMNS
from forestcycle.inventory.set_aside import join_set_aside

MOVE_ON = "correct the date, or move city.assessed_on forward"
"""Remedy for what was seen or done after the day of the assessment."""


def lines_of(
    rows: pd.DataFrame, layer: str, field: str, fault: str, remedy: str, *, used: bool = False
) -> pd.DataFrame:
    """Say of rows of a table what is wrong with them.

    Parameters
    ----------
    rows : DataFrame
        With ``row`` (their number in the layer), ``tree_id`` and the field.
    layer : str
    field : str
        Which field is at fault.
    fault, remedy : str
    used : bool
        True where the row stays in without this field.

    Returns
    -------
    DataFrame
        One line per row.
    """
    lines = rows[["row", "tree_id"]].assign(
        layer=layer,
        field=field,
        value=rows[field].astype("str"),
        fault=fault,
        remedy=remedy,
        used=used,
    )
    return lines[list(SET_ASIDE_COLUMNS)].astype(dict(SET_ASIDE_COLUMNS))


def joined(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put lines into one table.

    Parameters
    ----------
    tables : sequence of DataFrame

    Returns
    -------
    DataFrame
        By layer and row.
    """
    lines = join_set_aside(tables)
    return lines.sort_values(["layer", "row"], kind="stable", ignore_index=True)
