"""Keep what cannot be used: one line per row and fault, with its reason."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.inventory.schema import SET_ASIDE_COLUMNS, empty_table

Mask = npt.NDArray[np.bool_]


class SetAside:
    """Collects faulty rows of one layer.

    Parameters
    ----------
    layer : str
        Name that the lines carry.
    ids : (n,) Series of str
        Ids of the layer's rows, or of the trees that they are about.
    """

    def __init__(self, layer: str, ids: pd.Series) -> None:
        self._layer = layer
        self._ids = np.asarray(ids, dtype=object)
        self._parts: list[pd.DataFrame] = []
        self.dropped: Mask = np.zeros(len(ids), dtype=bool)

    def add(
        self,
        faulty: Mask,
        field: str,
        values: pd.Series | npt.NDArray[np.object_] | Sequence[str],
        fault: str,
        remedy: str | npt.NDArray[np.object_],
        *,
        used: bool = False,
    ) -> None:
        """Set rows aside, or only one field of them.

        Parameters
        ----------
        faulty : (n,) bool
            Over all rows of the layer.
        field : str
            Which field is at fault.
        values : (n,) values
            What stands there, for every row.
        fault : str
            The reason; the same words for the same reason.
        remedy : str or (n,) str
        used : bool
            True where the row stays in without this field.
        """
        rows = np.flatnonzero(faulty)
        if not used:
            self.dropped |= faulty
        if not len(rows):
            return
        column = values if isinstance(values, pd.Series) else pd.Series(values, dtype=object)
        shown = column.iloc[rows].astype(object)
        part = {
            "layer": self._layer,
            "row": rows.astype(np.int64),
            "tree_id": self._ids[rows],
            "field": field,
            "value": shown.where(shown.notna(), "").astype(str).to_numpy(dtype=object),
            "fault": fault,
            "remedy": remedy if isinstance(remedy, str) else remedy[rows],
            "used": used,
        }
        self._parts.append(pd.DataFrame(part).astype(dict(SET_ASIDE_COLUMNS)))

    def table(self) -> pd.DataFrame:
        """Return all lines, by row.

        Returns
        -------
        DataFrame
            ``SET_ASIDE_COLUMNS``.
        """
        if not self._parts:
            return empty_table(SET_ASIDE_COLUMNS)
        lines = pd.concat(self._parts, ignore_index=True)
        return lines.sort_values("row", kind="stable", ignore_index=True)


def join_set_aside(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put the lines of several layers into one table.

    Parameters
    ----------
    tables : sequence of DataFrame
        Each with ``SET_ASIDE_COLUMNS``.

    Returns
    -------
    DataFrame
    """
    filled = [table for table in tables if len(table)]
    return pd.concat(filled, ignore_index=True) if filled else empty_table(SET_ASIDE_COLUMNS)
