"""A street sketch for paper: numbered stops, the day's way, north arrow, scale bar.

Black on white and legible in grey: nothing is said by colour.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from forestcycle.publish.map_labels import Coordinates, StopLabel, spread, stop_labels
from forestcycle.publish.pdf_text import draw, width
from forestcycle.publish.text import plain

LEAST_METRES = 150.0
"""The shorter side of the map shows at least this much ground."""
MARGIN = 0.08
LABEL_SIZE = 7.0
LABEL_HEIGHT = 10.0
STREET_SIZE = 5.6
STREET_METRES = 12.0
HULL_METRES = 30.0
SMOOTH = 0.3
"""Points by which a drawn line may miss its true course."""
NAME_PLACES = (0.5, 0.3, 0.7, 0.15, 0.85)
"""Shares of a street's length at which its name may stand, the first tried first."""
STRAIGHT = 0.97
"""Least chord over length of the piece under a name."""
MOST_STREET_NAMES = 40
FEET_PER_METRE = 1 / 0.3048
METRES_PER_MILE = 1609.344


@dataclass(frozen=True)
class Frame:
    """Where a piece of ground lies on the page.

    Attributes
    ----------
    left, bottom, width, height : float
        The map's box on the page in points.
    west, south : float
        Its lower left corner on the ground in metres.
    scale : float
        Points per metre.
    """

    left: float
    bottom: float
    width: float
    height: float
    west: float
    south: float
    scale: float

    @property
    def ground(self) -> shapely.Polygon:
        """The ground in view."""
        return shapely.box(
            self.west,
            self.south,
            self.west + self.width / self.scale,
            self.south + self.height / self.scale,
        )

    def place(self, coordinates: Coordinates) -> Coordinates:
        """Turn metres (k, 2) into points on the page (k, 2)."""
        corner = np.array([self.west, self.south])
        placed: Coordinates = (coordinates - corner) * self.scale + (self.left, self.bottom)
        return placed


@dataclass(frozen=True)
class Streets:
    """The street lines of a city, ready to be looked up by map.

    Attributes
    ----------
    lines : (n,) array of LineString
    names : list of str
        Plain text.
    tree : STRtree
    """

    lines: NDArray[np.object_]
    names: list[str]
    tree: shapely.STRtree


def index_streets(streets: gpd.GeoDataFrame | None) -> Streets:
    """Make the street layer searchable by box.

    Parameters
    ----------
    streets : GeoDataFrame or None
        With ``street`` and lines.

    Returns
    -------
    Streets
    """
    if streets is None:
        return Streets(np.empty(0, dtype=object), [], shapely.STRtree([]))
    parts = streets[["street", "geometry"]].explode(index_parts=False)
    parts = parts[parts.geom_type == "LineString"]
    lines = parts.geometry.to_numpy()
    return Streets(lines, [plain(str(name)) for name in parts["street"]], shapely.STRtree(lines))


def frame_around(points: Coordinates, box: tuple[float, float, float, float]) -> Frame:
    """Choose the scale at which all points fit into a box on the page.

    Parameters
    ----------
    points : float64 (k, 2)
        Metres.
    box : tuple of float
        Left, bottom, width, height in points.

    Returns
    -------
    Frame
    """
    left, bottom, across, up = box
    low, high = points.min(axis=0), points.max(axis=0)
    least = LEAST_METRES / min(across, up)
    span = np.maximum((high - low) / (1 - 2 * MARGIN), least * np.array([across, up]))
    scale = float(min(across / span[0], up / span[1]))
    west, south = (low + high) / 2 - np.array([across, up]) / (2 * scale)
    return Frame(left, bottom, across, up, float(west), float(south), scale)


def draw_map(
    canvas: Canvas,
    frame: Frame,
    streets: Streets,
    stops: Coordinates,
    way: shapely.LineString | None,
    *,
    units: str = "metric",
) -> None:
    """Draw the sketch of one crew-day.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    streets : Streets
    stops : float64 (k, 2)
        Metres, in the order of the day.
    way : LineString or None
        From the depot over all stops and back.
    units : {"metric", "us"}
        For the scale bar.
    """
    labels = _place_labels(frame, stop_labels(frame.place(stops)))
    with _ground(canvas, frame, streets, units) as seen:
        if way is not None:
            drawn = shapely.simplify(way, SMOOTH / frame.scale)
            _draw_way(canvas, frame.place(shapely.get_coordinates(drawn)))
        _name_streets(canvas, frame, streets, seen, [(x, y) for _, x, y in labels])
        _draw_labels(canvas, labels)


def draw_overview(
    canvas: Canvas,
    frame: Frame,
    streets: Streets,
    days: Mapping[str, Coordinates],
    *,
    units: str = "metric",
) -> None:
    """Draw where several days' stops lie: dots, and a named outline around each day's.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    streets : Streets
    days : mapping of str to float64 (k, 2)
        What each outline is called, and its stops in metres.
    units : {"metric", "us"}
        For the scale bar.
    """
    spots = {name: frame.place(stops) for name, stops in days.items()}
    centres = [
        StopLabel(float(spot[:, 0].mean()), float(spot[:, 1].mean()), name)
        for name, spot in spots.items()
    ]
    labels = _place_labels(frame, centres)
    with _ground(canvas, frame, streets, units) as seen:
        _name_streets(canvas, frame, streets, seen, [(x, y) for _, x, y in labels])
        for name, stops in days.items():
            _draw_outline(canvas, frame, stops)
            for x, y in spots[name].tolist():
                canvas.circle(x, y, 1.3, stroke=0, fill=1)
        _draw_labels(canvas, labels)


def _draw_outline(canvas: Canvas, frame: Frame, stops: Coordinates) -> None:
    hull = shapely.MultiPoint(stops).convex_hull.buffer(HULL_METRES)
    path = canvas.beginPath()
    _trace(path, frame.place(shapely.get_coordinates(hull)))
    canvas.setLineWidth(1.0)
    canvas.setDash(3, 2)
    canvas.drawPath(path)
    canvas.setDash()


@contextmanager
def _ground(
    canvas: Canvas, frame: Frame, streets: Streets, units: str
) -> Iterator[NDArray[np.int64]]:
    """Draw streets below and frame, north arrow and scale bar above what the block draws.

    Yields
    ------
    int64 (k,)
        Rows of the street lines in view.
    """
    canvas.saveState()
    box = canvas.beginPath()
    box.rect(frame.left, frame.bottom, frame.width, frame.height)
    canvas.clipPath(box, stroke=0, fill=0)
    seen = streets.tree.query(frame.ground)
    _draw_streets(canvas, frame, streets, seen)
    yield seen
    canvas.restoreState()
    canvas.setLineWidth(0.6)
    canvas.rect(frame.left, frame.bottom, frame.width, frame.height)
    _draw_north(canvas, frame)
    _draw_scale_bar(canvas, frame, units)


def _draw_streets(canvas: Canvas, frame: Frame, streets: Streets, seen: NDArray[np.int64]) -> None:
    path = canvas.beginPath()
    for line in shapely.simplify(streets.lines[seen], SMOOTH / frame.scale):
        _trace(path, frame.place(shapely.get_coordinates(line)))
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    across = min(max(STREET_METRES * frame.scale, 0.8), 5.0)
    for thickness, grey in ((across, 0.72), (across - 1.2, 1.0)):
        if thickness <= 0:
            continue
        canvas.setLineWidth(thickness)
        canvas.setStrokeGray(grey)
        canvas.drawPath(path)
    canvas.setStrokeGray(0)


def _trace(path: PDFPathObject, points: Coordinates) -> None:
    (x, y), *rest = points.tolist()
    path.moveTo(x, y)
    for x, y in rest:
        path.lineTo(x, y)


def _draw_way(canvas: Canvas, points: Coordinates) -> None:
    path = canvas.beginPath()
    _trace(path, points)
    canvas.setLineWidth(1.3)
    canvas.drawPath(path)
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    since = 0.0
    for start, step, length in zip(points, steps, lengths, strict=False):
        since += length
        if length > 14 and since > 70:
            since = 0.0
            _arrow_head(canvas, start + step * 0.5, step / length)


def _arrow_head(canvas: Canvas, tip: NDArray[np.float64], direction: NDArray[np.float64]) -> None:
    side = np.array([-direction[1], direction[0]])
    path = canvas.beginPath()
    corners = np.array(
        [tip + 4 * direction, tip - 3 * direction + 3 * side, tip - 3 * direction - 3 * side]
    )
    _trace(path, corners)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _name_streets(
    canvas: Canvas,
    frame: Frame,
    streets: Streets,
    seen: NDArray[np.int64],
    taken: list[tuple[float, float]],
) -> None:
    """Print each street's name once, along its longest piece in view."""
    for name, line in _longest_pieces(frame, streets, seen)[:MOST_STREET_NAMES]:
        needed = width(name, STREET_SIZE)
        spot = _free_spot(line, needed, taken)
        if spot is None:
            continue
        x, y, angle = spot
        taken.append((x, y))
        canvas.saveState()
        canvas.translate(x, y)
        canvas.rotate(angle if -90 < angle <= 90 else angle + 180)
        canvas.setFillGray(1)
        canvas.rect(-needed / 2 - 1, -2.6, needed + 2, 5.6, stroke=0, fill=1)
        canvas.setFillGray(0.25)
        draw(canvas, 0, -STREET_SIZE * 0.34, name, STREET_SIZE, align="centre")
        canvas.restoreState()


def _longest_pieces(
    frame: Frame, streets: Streets, seen: NDArray[np.int64]
) -> list[tuple[str, shapely.LineString]]:
    """Each street's longest unbroken line in view, on the page; the longest street first."""
    by_name: dict[str, list[shapely.Geometry]] = {}
    for row in seen:
        if streets.names[row]:
            by_name.setdefault(streets.names[row], []).append(streets.lines[row])
    longest = []
    for name, lines in by_name.items():
        inside = shapely.clip_by_rect(shapely.union_all(lines), *frame.ground.bounds)
        parts = shapely.get_parts(shapely.line_merge(inside))
        if len(parts):
            piece = max(parts, key=shapely.length)
            placed = frame.place(shapely.get_coordinates(piece))
            longest.append((name, shapely.LineString(placed)))
    return sorted(longest, key=lambda item: -item[1].length)


def _free_spot(
    line: shapely.LineString, needed: float, taken: list[tuple[float, float]]
) -> tuple[float, float, float] | None:
    """Find where along a line a name covers no label and the line is straight enough.

    Returns
    -------
    x, y, degrees : float
        Or None.
    """
    half = needed / 2 + 2
    if line.length < 2 * half:
        return None
    for share in NAME_PLACES:
        middle = min(max(share * line.length, half), line.length - half)
        ends = shapely.get_coordinates(
            shapely.line_interpolate_point(line, [middle - half, middle + half])
        )
        chord = ends[1] - ends[0]
        length = float(np.hypot(*chord))
        spot = ends.mean(axis=0)
        if length >= STRAIGHT * 2 * half and not _covers(spot, chord / length, half, taken):
            return float(spot[0]), float(spot[1]), float(np.degrees(np.arctan2(chord[1], chord[0])))
    return None


def _covers(
    spot: Coordinates, along: Coordinates, half: float, taken: list[tuple[float, float]]
) -> bool:
    apart = np.array(taken).reshape(-1, 2) - spot
    beside = np.abs(apart @ np.array([-along[1], along[0]]))
    ahead = np.abs(apart @ along)
    return bool(((beside < 9) & (ahead < half + 8)).any())


def _place_labels(frame: Frame, labels: list[StopLabel]) -> list[tuple[StopLabel, float, float]]:
    sizes = np.array([[_label_width(label), LABEL_HEIGHT] for label in labels])
    spots = np.array([[label.x, label.y] for label in labels])
    right, top = frame.left + frame.width, frame.bottom + frame.height
    kept_free = [
        (frame.left, frame.bottom, frame.left + 0.4 * frame.width, frame.bottom + 16),
        (right - 24, top - 36, right, top),
    ]
    placed = spread(spots, sizes, (frame.left, frame.bottom, right, top), kept_free=kept_free)
    return [(label, *spot) for label, spot in zip(labels, placed.tolist(), strict=True)]


def _label_width(label: StopLabel) -> float:
    return max(width(label.text, LABEL_SIZE, bold=True) + 5, LABEL_HEIGHT)


def _draw_labels(canvas: Canvas, labels: list[tuple[StopLabel, float, float]]) -> None:
    """Draw each number, with a line to its spot where it had to move."""
    canvas.setLineWidth(0.5)
    for label, x, y in labels:
        canvas.line(label.x, label.y, x, y)
        canvas.circle(label.x, label.y, 1.3, stroke=0, fill=1)
    canvas.setLineWidth(0.9)
    for label, x, y in labels:
        across = _label_width(label)
        canvas.setFillGray(1)
        canvas.roundRect(
            x - across / 2, y - LABEL_HEIGHT / 2, across, LABEL_HEIGHT, LABEL_HEIGHT / 2, fill=1
        )
        canvas.setFillGray(0)
        draw(canvas, x, y - LABEL_SIZE * 0.36, label.text, LABEL_SIZE, bold=True, align="centre")


def _draw_north(canvas: Canvas, frame: Frame) -> None:
    x, y = frame.left + frame.width - 14, frame.bottom + frame.height - 30
    canvas.setFillGray(1)
    canvas.rect(x - 9, y - 5, 18, 32, stroke=0, fill=1)
    canvas.setFillGray(0)
    path = canvas.beginPath()
    _trace(path, np.array([[x, y + 16], [x - 5, y - 1], [x, y + 3], [x + 5, y - 1]]))
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
    draw(canvas, x, y + 18, "N", 7, bold=True, align="centre")


def _draw_scale_bar(canvas: Canvas, frame: Frame, units: str) -> None:
    metres, text = scale_bar(0.25 * frame.width / frame.scale, units)
    length = metres * frame.scale
    x, y = frame.left + 6, frame.bottom + 6
    canvas.setFillGray(1)
    canvas.rect(x - 3, y - 3, length + width(text, 6.5) + 11, 12, stroke=0, fill=1)
    canvas.setFillGray(0)
    canvas.setLineWidth(0.6)
    canvas.rect(x, y, length, 3, stroke=1, fill=0)
    canvas.rect(x, y, length / 2, 3, stroke=1, fill=1)
    draw(canvas, x + length + 4, y, text, 6.5)


def scale_bar(most_metres: float, units: str) -> tuple[float, str]:
    """Choose a round length for the scale bar.

    Parameters
    ----------
    most_metres : float
        It may not be longer.
    units : {"metric", "us"}

    Returns
    -------
    metres : float
    text : str
        Such as ``200 m`` or ``500 ft``.
    """
    if units == "us":
        feet = _round_down(most_metres * FEET_PER_METRE)
        if feet < 2000:
            return feet / FEET_PER_METRE, f"{feet:g} ft"
        miles = _round_down(most_metres / METRES_PER_MILE)
        return miles * METRES_PER_MILE, f"{miles:g} mi"
    metres = _round_down(most_metres)
    return metres, f"{metres:g} m" if metres < 1000 else f"{metres / 1000:g} km"


def _round_down(value: float) -> float:
    """Find the largest 1, 2 or 5 times a power of ten that is not above a value."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(power * max(step for step in (1, 2, 5) if step * power <= value * (1 + 1e-9)))
