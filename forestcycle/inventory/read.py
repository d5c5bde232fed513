"""Read any vector layer or table that GDAL opens, delimited text, and PostGIS."""

import contextlib
import warnings
from collections.abc import Iterator, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyproj
from shapely.errors import GEOSException

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.delimited import read_delimited
from forestcycle.inventory.layer import Layer, LayerInfo
from forestcycle.inventory.source import (
    Source,
    Table,
    gdal_name,
    is_delimited_text,
    require_readable,
)
from forestcycle.inventory.tables import list_table_layers, read_table, table_info

# else GDAL writes NAME.gz.properties beside a packed file that it only reads
pyogrio.set_gdal_config_options({"CPL_VSIL_GZIP_WRITE_PROPERTIES": False})


def list_layers(source: Source | Table) -> dict[str, str | None]:
    """List the layers of a file or database with their geometry types.

    Parameters
    ----------
    source : Source or Table
        Its layer is not looked at.

    Returns
    -------
    dict of str to (str or None)
        None for a table; empty for delimited text, which has no layers.

    Raises
    ------
    InventoryError
        The file is missing, open elsewhere, or no vector file.
    """
    if isinstance(source, Table):
        return list_table_layers(source.database)
    require_readable(source.path)
    if is_delimited_text(source.path):
        return {}
    try:
        with _gdal_remarks_ignored():
            listed = pyogrio.list_layers(gdal_name(source.path))
    except (RuntimeError, ValueError) as error:
        raise InventoryError(_not_readable(source, error)) from None
    return {str(name): None if kind is None else str(kind) for name, kind in listed}


def layer_info(source: Source | Table) -> LayerInfo:
    """Look at a layer without reading its rows.

    Parameters
    ----------
    source : Source or Table
        Where no layer is named: the first with points, else the first.

    Returns
    -------
    LayerInfo

    Raises
    ------
    InventoryError
        As :func:`list_layers`; or there is no such layer, and the fault
        names those there are.
    """
    if isinstance(source, Table):
        return table_info(source)
    layers = list_layers(source)
    if is_delimited_text(source.path):
        header = read_delimited(source.path, rows=0)
        return LayerInfo(source, tuple(header.columns), "", None, -1)
    chosen = Source(source.path, _choose_layer(source, layers))
    try:
        with _gdal_remarks_ignored():
            info = pyogrio.read_info(gdal_name(source.path), layer=chosen.layer)
    except (RuntimeError, ValueError) as error:
        raise InventoryError(_not_readable(chosen, error)) from None
    return LayerInfo(
        chosen,
        tuple(str(name) for name in info["fields"]),
        str(info.get("fid_column") or ""),
        layers[str(chosen.layer)],
        int(info["features"]),
    )


@contextlib.contextmanager
def _gdal_remarks_ignored() -> Iterator[None]:
    """Pass over GDAL's warnings: about measured (M) values and the like, which we drop."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _choose_layer(source: Source, layers: dict[str, str | None]) -> str:
    if source.layer is None:
        with_points = [name for name, kind in layers.items() if kind and "Point" in kind]
        return (with_points or [*layers, ""])[0]
    if source.layer not in layers:
        raise InventoryError(
            Fault(
                f"no layer {source.layer!r}",
                str(source.path),
                f"layers there: {', '.join(layers)}",
            )
        )
    return source.layer


def read_layer(info: LayerInfo, *, fields: Sequence[str] | None = None) -> Layer:
    """Read a layer.

    Parameters
    ----------
    info : LayerInfo
    fields : sequence of str, optional
        Only these attributes; each is a field of the layer or its row field.

    Returns
    -------
    Layer

    Raises
    ------
    InventoryError
        The file cannot be read.
    """
    source = info.source
    if isinstance(source, Source):
        _refuse_absurd_count(source, info.rows)
    if isinstance(source, Table):
        return read_table(source, fields=fields)
    if is_delimited_text(source.path):
        table = read_delimited(source.path, columns=None if fields is None else list(fields))
        return Layer(source, table, None, None)
    with_row_field = bool(fields) and info.row_field in (fields or ())
    options: dict[str, Any] = {"layer": source.layer, "fid_as_index": with_row_field}
    if fields is not None:
        options["columns"] = [name for name in fields if name in info.fields]
    try:
        with _gdal_remarks_ignored():
            frame = pyogrio.read_dataframe(gdal_name(source.path), **options)
    except (RuntimeError, ValueError, OSError, GEOSException) as error:
        raise InventoryError(_not_readable(source, error)) from None
    if with_row_field:
        frame[info.row_field] = frame.index.to_numpy()
        frame = frame.reset_index(drop=True)
    return _split(source, frame)


def _refuse_absurd_count(source: Source, rows: int) -> None:
    """Refuse a GeoPackage that says it holds more rows than bytes; memory is set aside for each."""
    if source.path.suffix.lower() == ".gpkg" and rows > source.path.stat().st_size:
        fault = f"says that it holds {rows:,} rows, more than its size allows"
        remedy = "open it in a GIS and save the layer under a new name"
        raise InventoryError(Fault(fault, str(source), remedy))


def _split(source: Source, frame: pd.DataFrame) -> Layer:
    if not isinstance(frame, gpd.GeoDataFrame):
        return Layer(source, frame, None, None)
    geometry = np.asarray(frame.geometry.array, dtype=object)
    crs = None if frame.crs is None else pyproj.CRS.from_user_input(frame.crs)
    table = pd.DataFrame(frame.drop(columns=frame.geometry.name))
    return Layer(source, table, geometry, crs)


def _not_readable(source: Source, error: Exception) -> Fault:
    reason = " ".join(str(error).split())
    return Fault(
        f"cannot be read as a vector file: {reason}",
        str(source),
        "is it a GeoPackage, Shapefile, GeoJSON, FlatGeobuf or CSV, and whole?",
    )


def require_fields(info: LayerInfo, wanted: dict[str, str]) -> list[Fault]:
    """Check that the fields named in the settings are there.

    Parameters
    ----------
    info : LayerInfo
    wanted : dict of str to str
        Settings key to field name.

    Returns
    -------
    list of Fault
        One for each field that is missing, naming those there are.
    """
    there = {*info.fields, info.row_field}
    return [
        Fault(
            f"no field {name!r}, which {key} names",
            str(info.source),
            f"fields there: {', '.join(info.fields)}",
        )
        for key, name in wanted.items()
        if name not in there
    ]
