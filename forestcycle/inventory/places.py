"""Where each tree stands: points from geometry or coordinate columns, in a working CRS."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyproj
import shapely

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.convert import numbers
from forestcycle.inventory.crs import outside_area, project, source_crs, working_crs
from forestcycle.inventory.layer import Geometry, Layer
from forestcycle.inventory.set_aside import SetAside
from forestcycle.settings.city import City
from forestcycle.settings.fields import TreeFields

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

FARTHEST_METRES = 500_000.0
MOST_OUTSIDE = 0.5


@dataclass(frozen=True)
class Places:
    """Points of a layer in the working CRS.

    Attributes
    ----------
    x, y : (n,) float64
        Metres; NaN where set aside.
    crs : CRS
        Projected, in metres.
    """

    x: Floats
    y: Floats
    crs: pyproj.CRS


def place_trees(layer: Layer, fields: TreeFields, city: City, aside: SetAside) -> Places:
    """Find every tree's point, and set aside the trees without a possible one.

    Parameters
    ----------
    layer : Layer
    fields : TreeFields
    city : City
        Its CRS settings.
    aside : SetAside
        Collects the rows whose place is missing or impossible.

    Returns
    -------
    Places

    Raises
    ------
    InventoryError
        No coordinates at all, no CRS, or most coordinates cannot be in it.
    """
    x, y = _coordinates(layer, fields, aside)
    usable = np.isfinite(x) & np.isfinite(y) & ~((x == 0) & (y == 0))
    missing = ~usable & ~aside.dropped
    shown = np.full(len(x), "", dtype=object)
    shown[missing] = _pair(x[missing], y[missing])
    aside.add(missing, "geometry", shown, "coordinates missing", "survey the tree's place")
    if not usable.any():
        fault = Fault("no row has coordinates", str(layer.source), "choose another layer or file")
        raise InventoryError(fault)
    crs = source_crs(layer.crs, city.source_crs, str(layer.source))
    outside = np.zeros(len(x), dtype=bool)
    outside[usable] = outside_area(x[usable], y[usable], crs)
    shown[outside] = _pair(x[outside], y[outside])
    if outside.sum() > MOST_OUTSIDE * usable.sum():
        raise InventoryError(_wrong_crs(layer, crs, shown[np.flatnonzero(outside)[0]], outside))
    good = usable & ~outside
    working = working_crs(city.working_crs, crs, x[good], y[good])
    moved_x, moved_y = np.full(len(x), np.nan), np.full(len(x), np.nan)
    moved_x[good], moved_y[good] = project(x[good], y[good], crs, working)
    far = good & ~_near_the_rest(moved_x, moved_y, good)
    shown[far] = _pair(x[far], y[far])
    remedy = f"correct the coordinates; they are read as {crs.name}"
    aside.add(outside | far, "geometry", shown, "coordinates impossible", remedy)
    moved_x[far], moved_y[far] = np.nan, np.nan
    return Places(moved_x, moved_y, working)


def _coordinates(layer: Layer, fields: TreeFields, aside: SetAside) -> tuple[Floats, Floats]:
    if layer.geometry is not None and not _is_empty(layer.geometry):
        return single_points(layer, layer.geometry, aside)
    if fields.longitude is None or fields.latitude is None:
        raise InventoryError(
            Fault(
                "has no geometry",
                str(layer.source),
                "set trees.fields.longitude and trees.fields.latitude to its coordinate columns",
            )
        )
    columns = []
    for key in ("longitude", "latitude"):
        name = getattr(fields, key)
        values, is_text = numbers(layer.table[name])
        require_some_numbers(values, is_text, f"trees.fields.{key}", name, layer)
        fault = "coordinates not a number"
        aside.add(is_text, key, layer.table[name], fault, "write a number")
        columns.append(values)
    return columns[0], columns[1]


def _is_empty(geometry: Geometry) -> bool:
    return len(geometry) > 0 and bool(shapely.is_missing(geometry).all())


def require_some_numbers(values: Floats, is_text: Mask, key: str, name: str, layer: Layer) -> None:
    """Raise where a column mapped to a number is mostly text.

    Parameters
    ----------
    values : (n,) float64
    is_text : (n,) bool
    key : str
        Settings key.
    name : str
        Field name.
    layer : Layer

    Raises
    ------
    InventoryError
        More text than numbers stands in it.
    """
    if is_text.sum() > np.isfinite(values).sum():
        example = str(layer.table[name].iloc[int(np.flatnonzero(is_text)[0])])
        raise InventoryError(
            Fault(
                f"{is_text.sum():,} of {len(values):,} values are no numbers, such as {example!r}",
                f"{layer.source}, field {name}",
                f"set {key} to a field with numbers",
            )
        )


def single_points(layer: Layer, geometry: Geometry, aside: SetAside) -> tuple[Floats, Floats]:
    """Take the coordinates of points, without heights.

    Parameters
    ----------
    layer : Layer
    geometry : (n,) array of geometries
        A multi-point with one part is that point; with more it is set aside.
    aside : SetAside

    Returns
    -------
    tuple of (n,) float64
        NaN where there is no single point.

    Raises
    ------
    InventoryError
        No geometry is a point.
    """
    kinds = shapely.get_type_id(geometry)
    parts = shapely.get_num_geometries(geometry)
    several = (kinds == shapely.GeometryType.MULTIPOINT) & (parts == 1)
    points = np.where(several, shapely.get_geometry(geometry, 0), geometry)
    is_point = shapely.get_type_id(points) == shapely.GeometryType.POINT
    other = ~is_point & ~shapely.is_missing(geometry) & ~shapely.is_empty(geometry)
    if other.any() and not is_point.any():
        kind = shapely.from_wkb(shapely.to_wkb(geometry[np.flatnonzero(other)[0]])).geom_type
        fault = Fault(
            f"holds no points but {kind}s", str(layer.source), "set layers.trees to a point layer"
        )
        raise InventoryError(fault)
    words = np.full(len(geometry), "", dtype=object)
    words[other] = [item.geom_type for item in geometry[other]]
    aside.add(other, "geometry", words, "geometry not a single point", "draw one point per tree")
    points[~is_point | shapely.is_empty(points)] = None
    return shapely.get_x(points), shapely.get_y(points)


def _near_the_rest(x: Floats, y: Floats, good: Mask) -> Mask:
    """Tell which trees stand in the city: none is 500 km wide."""
    middle_x, middle_y = np.median(x[good]), np.median(y[good])
    with np.errstate(invalid="ignore"):
        near: Mask = np.hypot(x - middle_x, y - middle_y) <= FARTHEST_METRES
    return near


def _pair(x: Floats, y: Floats) -> npt.NDArray[np.object_]:
    """Write coordinates for people to read."""
    pairs = zip(x.tolist(), y.tolist(), strict=True)
    words = [f"{a:.10g} {b:.10g}" if a == a and b == b else "" for a, b in pairs]
    return np.array(words, dtype=object)


def _wrong_crs(layer: Layer, crs: pyproj.CRS, example: object, outside: Mask) -> Fault:
    return Fault(
        f"{outside.sum():,} coordinates, such as {example}, cannot be in {crs.name}",
        str(layer.source),
        "set city.source_crs to the CRS they are in, or correct that of the file",
    )
