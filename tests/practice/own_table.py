"""A city's own copy of a practice table, with one figure changed."""

from importlib.resources import files
from pathlib import Path

import pandas as pd


def own_table(folder: Path, name: str, column: str = "", value: str = "", *, row: str = "") -> Path:
    """Copy a table that ships with forestcycle, and set a column in one row or in all.

    Parameters
    ----------
    folder : Path
    name : str
        Without ``.csv``.
    column, value : str
        What to set; nothing by default.
    row : str
        First cell of the row to change; every row by default.

    Returns
    -------
    Path
        The copy.
    """
    shipped = (files("forestcycle.practice") / "tables" / f"{name}.csv").read_text(encoding="utf-8")
    path = folder / f"{name}.csv"
    path.write_text(shipped, encoding="utf-8")
    if column:
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        changed = table[table.columns[0]].eq(row) if row else table[column].notna()
        table.loc[changed, column] = value
        table.to_csv(path, index=False)
    return path
