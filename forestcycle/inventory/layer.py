"""A layer, wherever it lives: what it says of itself, and what it holds."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyproj

from forestcycle.inventory.source import Source, Table

Geometry = npt.NDArray[np.object_]


@dataclass(frozen=True)
class LayerInfo:
    """What a layer says of itself.

    Attributes
    ----------
    source : Source or Table
        With the layer's name, except for delimited text.
    fields : tuple of str
        Names of the attributes.
    row_field : str
        Name of the row number that the file itself keeps, or empty.
    geometry_type : str or None
        As GDAL names it; None for a table.
    rows : int
        -1 where only reading tells.
    """

    source: Source | Table
    fields: tuple[str, ...]
    row_field: str
    geometry_type: str | None
    rows: int


@dataclass(frozen=True)
class Layer:
    """A layer as the file has it.

    Attributes
    ----------
    source : Source or Table
    table : DataFrame
        Attributes, index 0..n-1 in the order of the file.
    geometry : (n,) array of shapely geometries, or None
        None for a table.
    crs : CRS or None
    """

    source: Source | Table
    table: pd.DataFrame
    geometry: Geometry | None
    crs: pyproj.CRS | None
