"""A crew's day as a GPX 1.1 file, for any navigation device.

The stops are a route in their order; the way along the streets is a track.
Format: GPX 1.1 schema, http://www.topografix.com/GPX/1/1/gpx.xsd.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as Xml

import geopandas as gpd
import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray

from forestcycle.publish.crew_day import CrewDay
from forestcycle.publish.crew_rows import dose_in_words, terms_in_words
from forestcycle.publish.crew_weeks import CrewWeek, crew_weeks, write_weeks
from forestcycle.publish.names import PaperPath
from forestcycle.publish.output import Edition, Output, Paper
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import plain

FOLDER = "sheets"
route_path = PaperPath(FOLDER + "/{crew}/{day}.gpx")
NAMESPACE = "http://www.topografix.com/GPX/1/1"
WGS84 = "EPSG:4326"
DECIMALS = 6
"""Of a degree: about a tenth of a metre."""

Degrees = NDArray[np.float64]


def write_gpx(edition: Edition) -> list[Path]:
    """Write ``sheets/<crew>/<date>.gpx`` for every used crew-day.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
    """
    plan = edition.plan
    common = _Common(plain(settings_of(plan).city.name), plan.stops.crs)
    weeks = crew_weeks(edition.days_to_draw())
    named = {f"{week.crew}, {week.label}": week for week in weeks}
    return write_weeks(edition, "routes", _routes_of_week, common, named)


@dataclass(frozen=True)
class _Common:
    city: str
    crs: pyproj.CRS


def _routes_of_week(common: _Common, week: CrewWeek) -> dict[str, bytes]:
    return {
        route_path(week.crew, day.date): gpx(
            day,
            _degrees([shapely.Point(place) for place in day.points], common.crs),
            _degrees([day.way], common.crs),
            common.city,
        )
        for day in week.days
    }


def _degrees(geometries: Sequence[shapely.Geometry | None], crs: pyproj.CRS) -> Degrees:
    """Longitude and latitude of every vertex (k, 2)."""
    return shapely.get_coordinates(gpd.GeoSeries(geometries, crs=crs).to_crs(WGS84).array)


def gpx(day: CrewDay, stops: Degrees, way: Degrees, city: str) -> bytes:
    """Make the GPX file of one crew-day.

    Parameters
    ----------
    day : CrewDay
    stops : float64 (k, 2)
        Longitude and latitude of the stops in order.
    way : float64 (m, 2)
        The same of the way; may be empty.
    city : str
        Plain text.

    Returns
    -------
    bytes
        UTF-8 XML.
    """
    root = Xml.Element("gpx", {"xmlns": NAMESPACE, "version": "1.1", "creator": "forestcycle"})
    title = f"{day.crew_shown}, {day.date.isoformat()}"
    _child(_child(root, "metadata"), "name", f"{city}: {title}")
    route = _child(root, "rte")
    _child(route, "name", title)
    for row, point in zip(day.rows, stops, strict=True):
        stop = _point(route, "rtept", point)
        _child(stop, "name", f"{row['stop']} {row['address']}".strip())
        _child(stop, "desc", _description(row))
    if len(way):
        track = _child(root, "trk")
        _child(track, "name", title)
        segment = _child(track, "trkseg")
        for point in way:
            _point(segment, "trkpt", point)
    Xml.indent(root, space=" ")
    return bytes(Xml.tostring(root, encoding="utf-8", xml_declaration=True))


def _description(row: dict[str, str]) -> str:
    parts = (
        f"{row['arrive']}, tree {row['tree_id']}, {row['common_name'] or row['species']}",
        row["work"],
        f"{dose_in_words(row)}, limit {row['dose_limit_percent']} %, {row['minutes']} min",
        terms_in_words(row),
        f"Caution: {row['cautions']}" if row["cautions"] else "",
    )
    return " | ".join(filter(None, parts))


def _point(parent: Xml.Element, tag: str, point: Degrees) -> Xml.Element:
    longitude, latitude = point
    position = {"lat": f"{latitude:.{DECIMALS}f}", "lon": f"{longitude:.{DECIMALS}f}"}
    return Xml.SubElement(parent, tag, position)


def _child(parent: Xml.Element, tag: str, text: str | None = None) -> Xml.Element:
    child = Xml.SubElement(parent, tag)
    child.text = text
    return child


OUTPUT = Output(
    "routes",
    FOLDER,
    write_gpx,
    by_workers=True,
    papers=(Paper(route_path, carried=True, label="route", rank=30),),
)
