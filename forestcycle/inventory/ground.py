"""What lies around the trees: streets, wards, depots, parks."""

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyproj
import shapely

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.convert import text
from forestcycle.inventory.crs import source_crs
from forestcycle.inventory.layer import Layer
from forestcycle.inventory.set_aside import SetAside

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

KMH_PER_MPH = 1.609344
"""International mile of 1,609.344 m, exact (NIST Special Publication 811, appendix B)."""

STREET_NAMES = ("street", "street_name", "streetname", "st_name", "full_name", "fullname", "name")
ONE_WAY_NAMES = ("one_way", "oneway", "one_way_dir", "direction")
KMH_NAMES = ("speed_kmh", "kmh", "maxspeed", "max_speed")
MPH_NAMES = ("speed_mph", "mph", "speedlimit_mph")
PLAIN_SPEED_NAMES = ("speed", "speed_limit", "speedlimit", "posted_speed")
AREA_NAMES = ("name", "ward_name", "park_name", "district", "label", "id")
DEPOT_NAMES = ("depot", "depot_name", "name", "yard", "label")

FORWARD = frozenset({"1", "1.0", "true", "yes", "y", "ft", "forward"})
BACKWARD = frozenset({"-1", "-1.0", "reverse", "tf", "backward"})


def read_streets(
    layer: Layer, crs: pyproj.CRS, setting: str | None, *, speeds_in_mph: bool
) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Read the street layer.

    Parameters
    ----------
    layer : Layer
    crs : CRS
        Working CRS.
    setting : str or None
        ``city.source_crs``, for a layer that does not say its own.
    speeds_in_mph : bool
        Unit of a speed field whose name and values do not tell.

    Returns
    -------
    streets : GeoDataFrame
        ``STREET_COLUMNS`` and lines, drawn in the direction of travel where
        the street is one-way.
    set_aside : DataFrame

    Raises
    ------
    InventoryError
        No lines, or no CRS.
    """
    names = _names(layer, STREET_NAMES)
    aside = SetAside("streets", pd.Series("", index=layer.table.index, dtype="str"))
    shapes = _shapes(layer, crs, setting, aside, (1, 5), "line")
    one_way, backward = _directions(_column(layer, ONE_WAY_NAMES))
    columns = {
        "street": names,
        "one_way": one_way,
        "speed_kmh": _speeds(layer, in_mph=speeds_in_mph),
        "backward": backward,
    }
    streets = gpd.GeoDataFrame(columns, geometry=shapes, crs=crs)
    streets = streets.loc[~aside.dropped].explode(ignore_index=True)
    against = streets.pop("backward").to_numpy(dtype=bool)
    turned = np.asarray(streets.geometry.array, dtype=object)
    turned[against] = shapely.reverse(turned[against])
    streets = streets.set_geometry(gpd.GeoSeries(turned, crs=crs))
    return streets[streets.length > 0].reset_index(drop=True), aside.table()


def read_areas(
    layer: Layer, crs: pyproj.CRS, setting: str | None, *, name: str
) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Read a polygon layer with names: wards or parks.

    Parameters
    ----------
    layer : Layer
    crs : CRS
        Working CRS.
    setting : str or None
        ``city.source_crs``.
    name : str
        Our column for the name: ``ward`` or ``park``.

    Returns
    -------
    areas : GeoDataFrame
        Names and valid polygons.
    set_aside : DataFrame

    Raises
    ------
    InventoryError
        No polygons, or no CRS.
    """
    names = _names(layer, (name, *AREA_NAMES))
    aside = SetAside(f"{name}s", pd.Series("", index=layer.table.index, dtype="str"))
    shapes = _shapes(layer, crs, setting, aside, (3, 6), "polygon")
    with np.errstate(invalid="ignore", over="ignore"):  # coordinates beyond any map
        valid = shapely.make_valid(shapes)
    areas = gpd.GeoDataFrame({name: names}, geometry=valid, crs=crs)
    return areas.loc[~aside.dropped].reset_index(drop=True), aside.table()


def read_depots(
    layer: Layer, crs: pyproj.CRS, setting: str | None
) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Read the depots, a polygon by a point within it.

    Parameters
    ----------
    layer : Layer
    crs : CRS
        Working CRS.
    setting : str or None
        ``city.source_crs``.

    Returns
    -------
    depots : GeoDataFrame
        ``DEPOT_COLUMNS`` and points.
    set_aside : DataFrame

    Raises
    ------
    InventoryError
        No depot, or no CRS.
    """
    names = _names(layer, DEPOT_NAMES)
    aside = SetAside("depots", pd.Series("", index=layer.table.index, dtype="str"))
    shapes = _shapes(layer, crs, setting, aside, (0, 3, 4, 6), "point")
    depots = gpd.GeoDataFrame({"depot": names}, geometry=shapely.point_on_surface(shapes), crs=crs)
    return depots.loc[~aside.dropped].reset_index(drop=True), aside.table()


def wards_of(points: gpd.GeoDataFrame, wards: gpd.GeoDataFrame) -> pd.Series:
    """Name the ward of each point: the first polygon that holds it.

    Parameters
    ----------
    points : GeoDataFrame
        With a text column ``ward``, which stays where no polygon holds the point.
    wards : GeoDataFrame

    Returns
    -------
    Series of str
    """
    tree = shapely.STRtree(np.asarray(points.geometry.array, dtype=object))
    areas = np.asarray(wards.geometry.array, dtype=object)
    area, point = tree.query(areas, predicate="intersects")
    first = np.full(len(points), len(wards), dtype=np.int64)
    np.minimum.at(first, point, area)
    names = np.append(wards["ward"].to_numpy(dtype=object), "")
    held = first < len(wards)
    own = points["ward"].to_numpy(dtype=object)
    return pd.Series(np.where(held, names[first], own), index=points.index, dtype="str")


def _shapes(
    layer: Layer,
    crs: pyproj.CRS,
    setting: str | None,
    aside: SetAside,
    kinds: Sequence[int],
    what: str,
) -> npt.NDArray[np.object_]:
    """Project geometries to the working CRS; set aside those of another kind."""
    if layer.geometry is None:
        raise InventoryError(
            Fault(f"has no geometry, {what}s wanted", str(layer.source), "choose another layer")
        )
    flat = shapely.force_2d(layer.geometry)
    good = np.isin(shapely.get_type_id(flat), kinds) & ~shapely.is_empty(flat)
    if not good.any():
        fault = Fault(f"holds no {what}s", str(layer.source), "choose another layer")
        raise InventoryError(fault)
    given = source_crs(layer.crs, setting if layer.crs is None else None, str(layer.source))
    moved = np.asarray(gpd.GeoSeries(flat, crs=given).to_crs(crs).array, dtype=object)
    finite = np.isfinite(shapely.bounds(moved)).all(axis=1)
    values = np.full(len(flat), "", dtype=object)
    aside.add(~(good & finite), "geometry", values, f"no {what} in the CRS", "correct the geometry")
    result: npt.NDArray[np.object_] = np.where(good & finite, moved, np.array(None, dtype=object))
    return result


def _column(layer: Layer, names: Sequence[str]) -> pd.Series | None:
    there = {str(name).casefold(): str(name) for name in layer.table.columns}
    found = next((there[name] for name in names if name in there), None)
    return None if found is None else layer.table[found]


def _names(layer: Layer, names: Sequence[str]) -> pd.Series:
    column = _column(layer, names)
    if column is None:
        return pd.Series("", index=layer.table.index, dtype="str")
    return text(column)


def _directions(column: pd.Series | None) -> tuple[Mask | bool, Mask | bool]:
    """Tell one-way streets, and those whose traffic runs against their drawing.

    Street layers write either yes and no, or 1 and -1, or F, T and B for
    forward, backward (the wording: from the *to* node) and both; T and F
    without any B are read as true and false.
    """
    if column is None:
        return False, False
    cells = text(column).str.casefold()
    forward, backward = cells.isin(FORWARD), cells.isin(BACKWARD)
    if (cells == "b").any():
        forward, backward = forward | (cells == "f"), backward | (cells == "t")
    else:
        forward = forward | (cells == "t")
    one_way = (forward | backward).to_numpy(dtype=bool)
    return one_way, backward.to_numpy(dtype=bool)


def _speeds(layer: Layer, *, in_mph: bool) -> Floats:
    for names, unit_is_mph in ((KMH_NAMES, False), (MPH_NAMES, True), (PLAIN_SPEED_NAMES, in_mph)):
        column = _column(layer, names)
        if column is not None:
            cells = text(column).str.casefold()
            said_mph = cells.str.contains("mph", regex=False).to_numpy(dtype=bool)
            digits = cells.str.extract(r"^(\d+(?:\.\d+)?)")[0]
            values = pd.to_numeric(digits, errors="coerce").to_numpy(dtype=float)
            kmh = np.where(said_mph | unit_is_mph, values * KMH_PER_MPH, values)
            return np.where((kmh > 0) & (kmh <= 200), kmh, np.nan)
    return np.full(len(layer.table), np.nan)
