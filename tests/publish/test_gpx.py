"""GPX 1.1 by its schema's rules: http://www.topografix.com/GPX/1/1/gpx.xsd (from memory)."""

from xml.etree import ElementTree as Xml

import pytest

from forestcycle.publish.crew_day import used_crew_days
from forestcycle.publish.gpx import NAMESPACE, route_path, write_gpx
from forestcycle.publish.output import Edition

ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"],
    "rte": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt"],
    "rtept": ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym"],
    "trkpt": ["ele", "time"],
}
"""Children that each element may have, in the order in which they must stand."""


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    return write_gpx(Edition(plan, tmp_path_factory.mktemp("gpx")))


def test_structure(written):
    for path in written:
        root = Xml.parse(path).getroot()  # noqa: S314 - our own output
        assert root.attrib == {"version": "1.1", "creator": "forestcycle"}
        for element in root.iter():
            tag = element.tag.removeprefix(f"{{{NAMESPACE}}}")
            assert tag != element.tag
            names = [child.tag.removeprefix(f"{{{NAMESPACE}}}") for child in element]
            places = [ORDER.get(tag, []).index(name) for name in names]
            assert places == sorted(places)
            if tag in {"rtept", "trkpt"}:
                assert -90 <= float(element.attrib["lat"]) <= 90
                assert -180 <= float(element.attrib["lon"]) < 180


def test_stops_are_the_plans_in_order_and_place(plan, written):
    days = used_crew_days(plan)
    assert len(written) == len(days)
    degrees = plan.stops.to_crs("EPSG:4326")
    for day in days:
        (path,) = (path for path in written if path.match(route_path(day.crew, day.date)))
        points = Xml.parse(path).getroot().findall(f".//{{{NAMESPACE}}}rtept")  # noqa: S314 - our own output
        names = [point.findtext(f"{{{NAMESPACE}}}name") for point in points]
        assert names == [f"{row['stop']} {row['address']}" for row in day.rows]
        rows = degrees[degrees["crew_day_id"].astype(str) == day.crew_day_id]
        for point, place in zip(points, rows.geometry, strict=True):
            assert float(point.attrib["lat"]) == pytest.approx(place.y, abs=1e-6)
            assert float(point.attrib["lon"]) == pytest.approx(place.x, abs=1e-6)
