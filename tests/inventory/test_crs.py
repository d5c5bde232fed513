"""The working CRS is in metres and true to scale."""

import geopandas as gpd
import numpy as np
import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forestcycle.errors import InventoryError
from forestcycle.inventory.crs import WGS84, outside_area, source_crs, utm_zone, working_crs

PORTLAND = (np.array([-122.63]), np.array([45.56]))


@settings(deadline=None, max_examples=40)
@given(st.floats(-179.9, 179.9), st.floats(-79, 71))
def test_utm_zones_are_those_of_geopandas(longitude: float, latitude: float) -> None:
    """South of the Norwegian and Svalbard exceptions."""
    if not 0.01 < longitude % 6 < 5.99 or abs(latitude) < 0.01:
        return
    if latitude > 55 and 0 <= longitude <= 12:
        return
    expected = gpd.GeoSeries.from_xy([longitude], [latitude], crs=4326).estimate_utm_crs()
    assert utm_zone(longitude, latitude) == expected


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        (4326, 32610),  # degrees
        (32610, 32610),  # metres already
        (2913, 32610),  # State Plane Oregon North in feet
        (3857, 32610),  # Web Mercator: out of scale by 43 % at this latitude
    ],
)
def test_working_crs(source: int, expected: int) -> None:
    crs = pyproj.CRS.from_epsg(source)
    x, y = pyproj.Transformer.from_crs(4326, crs, always_xy=True).transform(*PORTLAND)
    assert working_crs(None, crs, x, y) == pyproj.CRS.from_epsg(expected)


def test_a_working_crs_that_does_not_fit_is_refused() -> None:
    with pytest.raises(InventoryError, match="not projected in metres"):
        working_crs("EPSG:4326", WGS84, *PORTLAND)
    with pytest.raises(InventoryError, match="out of scale by 43%"):
        working_crs("EPSG:3857", WGS84, *PORTLAND)
    with pytest.raises(InventoryError, match="is no CRS"):
        working_crs("EPSG:1", WGS84, *PORTLAND)
    assert working_crs("EPSG:26910", WGS84, *PORTLAND) == pyproj.CRS.from_epsg(26910)


def test_file_and_settings_must_not_contradict() -> None:
    with pytest.raises(InventoryError, match=r"does not say which CRS .* set city\.source_crs"):
        source_crs(None, None, "city.csv")
    with pytest.raises(InventoryError, match=r"but city\.source_crs says 'WGS 84'"):
        source_crs(pyproj.CRS.from_epsg(32610), "EPSG:4326", "city.gpkg")
    assert source_crs(WGS84, "EPSG:4326", "city.gpkg") == WGS84
    assert source_crs(None, "EPSG:32610", "city.csv").to_epsg() == 32610


def test_places_outside_a_crs() -> None:
    """Area of use of EPSG:32610: 126 W to 120 W, 0 to 84 N (EPSG register)."""
    utm = pyproj.CRS.from_epsg(32610)
    x, y = np.array([525_000.0, -122.6, 1e9, 9e6]), np.array([5_045_000.0, 45.5, 1e9, 5e6])
    assert outside_area(x, y, utm).tolist() == [False, True, True, True]
    x, y = np.array([7.6e6, -122.6, 45.5]), np.array([6.8e5, 45.5, -122.6])
    assert outside_area(x, y, WGS84).tolist() == [True, False, True]
