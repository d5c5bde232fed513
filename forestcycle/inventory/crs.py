"""Coordinate reference systems: which one the data are in, which one to work in."""

import numpy as np
import numpy.typing as npt
import pyproj
from pyproj.exceptions import CRSError, ProjError

from forestcycle.errors import Fault, InventoryError

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

WGS84 = pyproj.CRS.from_epsg(4326)
LARGEST_DISTORTION = 0.01
AREA_MARGIN_DEGREES = 1.0
UTM_ZONE_DEGREES = 6


def parse_crs(text: str, key: str) -> pyproj.CRS:
    """Make a CRS of a settings value.

    Parameters
    ----------
    text : str
        Such as ``EPSG:4326``.
    key : str
        The settings key, for the fault.

    Returns
    -------
    CRS

    Raises
    ------
    InventoryError
        No such CRS.
    """
    try:
        return pyproj.CRS.from_user_input(text).to_2d()
    except CRSError:
        fault = Fault(f"{text!r} is no CRS", key, "write its code, such as 'EPSG:4326'")
        raise InventoryError(fault) from None


def source_crs(found: pyproj.CRS | None, setting: str | None, where: str) -> pyproj.CRS:
    """Settle which CRS the coordinates of a layer are in.

    Parameters
    ----------
    found : CRS or None
        What the file says.
    setting : str or None
        ``city.source_crs``.
    where : str
        File and layer, for the fault.

    Returns
    -------
    CRS
        In two dimensions.

    Raises
    ------
    InventoryError
        Neither says it, or the two contradict each other.
    """
    stated = parse_crs(setting, "city.source_crs") if setting else None
    if found is None and stated is None:
        raise InventoryError(
            Fault(
                "the file does not say which CRS its coordinates are in",
                where,
                "set city.source_crs to its code, which a GIS shows: 'EPSG:4326' for degrees, a "
                "local one such as 'EPSG:2913' for metres or feet",
            )
        )
    if found is None:
        assert stated is not None  # noqa: S101 - for the type checker
        return stated
    if stated is not None and not stated.equals(found.to_2d(), ignore_axis_order=True):
        raise InventoryError(
            Fault(
                f"the file says {found.name!r}, but city.source_crs says {stated.name!r}",
                where,
                "remove city.source_crs, or correct the file",
            )
        )
    return found.to_2d()


def working_crs(setting: str | None, source: pyproj.CRS, x: Floats, y: Floats) -> pyproj.CRS:
    """Choose the projected CRS with metre units in which distances are measured.

    Parameters
    ----------
    setting : str or None
        ``city.working_crs``.
    source : CRS
        Of the coordinates.
    x, y : (n,) float64
        Coordinates in ``source``, all finite.

    Returns
    -------
    CRS
        The one set; else the source's own if it is projected, in metres, and
        true to scale within 1 % at the middle of the data (Web Mercator is
        not); else the UTM zone (WGS 84) of that middle.

    Raises
    ------
    InventoryError
        The one set is not in metres or not true to scale here.
    """
    longitude, latitude = middle(source, x, y)
    if setting is None:
        good = _is_metric(source) and _distortion(source, longitude, latitude) <= LARGEST_DISTORTION
        return source if good else utm_zone(longitude, latitude)
    chosen = parse_crs(setting, "city.working_crs")
    if not _is_metric(chosen):
        fault = Fault(f"{chosen.name!r} is not projected in metres", "city.working_crs", _REMEDY)
        raise InventoryError(fault)
    distortion = _distortion(chosen, longitude, latitude)
    if not distortion <= LARGEST_DISTORTION:
        what = f"{chosen.name!r} is out of scale by {distortion:.0%} where the trees stand"
        raise InventoryError(Fault(what, "city.working_crs", _REMEDY))
    return chosen


_REMEDY = "choose the city's local grid or its UTM zone, or leave the key out"


def middle(source: pyproj.CRS, x: Floats, y: Floats) -> tuple[float, float]:
    """Find the median longitude and latitude, which outliers cannot move far.

    Parameters
    ----------
    source : CRS
    x, y : (n,) float64

    Returns
    -------
    tuple of float
    """
    x_middle = np.array([np.median(x)])
    y_middle = np.array([np.median(y)])
    longitude, latitude = project(x_middle, y_middle, source, WGS84)
    return float(longitude[0]), float(latitude[0])


def utm_zone(longitude: float, latitude: float) -> pyproj.CRS:
    """Name the UTM zone (WGS 84) of a place; zones are 6 degrees wide from 180 W.

    Parameters
    ----------
    longitude, latitude : float
        Degrees.

    Returns
    -------
    CRS
    """
    zone = int((longitude + 180) // UTM_ZONE_DEGREES) % 60 + 1
    return pyproj.CRS.from_epsg((32600 if latitude >= 0 else 32700) + zone)


def _is_metric(crs: pyproj.CRS) -> bool:
    return crs.is_projected and all(axis.unit_conversion_factor == 1 for axis in crs.axis_info[:2])


def _distortion(crs: pyproj.CRS, longitude: float, latitude: float) -> float:
    """Tell how far the scale is from 1, the worse of the two directions."""
    factors = pyproj.Proj(crs).get_factors(longitude, latitude)
    scales = np.array([factors.meridional_scale, factors.parallel_scale])
    return float(np.max(np.abs(scales - 1)))


def project(x: Floats, y: Floats, source: pyproj.CRS, target: pyproj.CRS) -> tuple[Floats, Floats]:
    """Move coordinates from one CRS to another, x first in both.

    Parameters
    ----------
    x, y : (n,) float64
    source, target : CRS

    Returns
    -------
    tuple of (n,) float64
        Infinite where there is no answer.

    Raises
    ------
    InventoryError
        There is no way from one CRS to the other.
    """
    if source.equals(target):
        return x, y
    try:
        transformer = pyproj.Transformer.from_crs(source, target, always_xy=True)
    except ProjError:
        what = f"no way from CRS {source.name!r} to {target.name!r}"
        remedy = "set city.source_crs to the CRS that the file is in"
        raise InventoryError(Fault(what, "coordinates", remedy)) from None
    moved_x, moved_y = transformer.transform(x, y)
    return np.asarray(moved_x, dtype=float), np.asarray(moved_y, dtype=float)


def outside_area(x: Floats, y: Floats, crs: pyproj.CRS) -> Mask:
    """Find coordinates that cannot be in a CRS.

    Parameters
    ----------
    x, y : (n,) float64
        Finite coordinates, said to be in ``crs``.
    crs : CRS

    Returns
    -------
    (n,) bool
        True where latitude or longitude is beyond the globe, or the place
        lies more than one degree outside the CRS's area of use.
    """
    if crs.is_geographic:
        longitude, latitude = x, y
    else:
        longitude, latitude = project(x, y, crs, WGS84)
    outside: Mask = ~((np.abs(longitude) <= 180) & (np.abs(latitude) <= 90))
    area = crs.area_of_use
    if area is not None and area.west <= area.east:
        outside |= (longitude < area.west - AREA_MARGIN_DEGREES) | (
            longitude > area.east + AREA_MARGIN_DEGREES
        )
        outside |= (latitude < area.south - AREA_MARGIN_DEGREES) | (
            latitude > area.north + AREA_MARGIN_DEGREES
        )
    return outside
