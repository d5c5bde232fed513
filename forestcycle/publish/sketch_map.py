"""A street sketch for paper: numbered stops, the day's way, north arrow, scale bar.

Black on white and legible in grey: nothing is said by colour.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from forestcycle.publish.map_labels import Coordinates, StopLabel, spread, stop_labels
from forestcycle.publish.pdf_text import draw, width
from forestcycle.publish.sketch_frame import SMOOTH, Frame, trace
from forestcycle.publish.sketch_scale import draw_north, draw_scale_bar
from forestcycle.publish.sketch_streets import (
    StreetName,
    Streets,
    draw_street_names,
    draw_streets,
    place_street_names,
    street_lines,
    streets_in_view,
)

Box = tuple[float, float, float, float]
"""Left, bottom, right, top in points."""

LABEL_SIZE = 7.0
LABEL_HEIGHT = 10.0
HULL_METRES = 30.0


@dataclass(frozen=True)
class Sketch:
    """The sketch of one crew-day, laid out: drawn as often as it is needed.

    Attributes
    ----------
    frame : Frame
    streets : PDFPathObject
        Their lines on the page.
    names : list of StreetName
    course : float64 (k, 2) or None
        The day's way on the page.
    labels : list of (StopLabel, float, float)
        Numbers of stops and where they stand.
    """

    frame: Frame
    streets: PDFPathObject
    names: list[StreetName]
    course: Coordinates | None
    labels: list[tuple[StopLabel, float, float]]


def lay_out_map(
    frame: Frame, streets: Streets, stops: Coordinates, way: shapely.LineString | None
) -> Sketch:
    """Lay out the sketch of one crew-day.

    Parameters
    ----------
    frame : Frame
    streets : Streets
    stops : float64 (k, 2)
        Metres, in the order of the day.
    way : LineString or None
        From the depot over all stops and back.

    Returns
    -------
    Sketch
    """
    course = None if way is None else _on_page(frame, way)
    depot = [] if course is None else [_depot_box(course)]
    labels = _place_labels(frame, stop_labels(frame.place(stops)), kept_free=depot)
    return _sketch(frame, streets, course, labels)


def draw_map(canvas: Canvas, sketch: Sketch, *, units: str = "metric") -> None:
    """Draw the sketch of one crew-day.

    Parameters
    ----------
    canvas : Canvas
    sketch : Sketch
    units : {"metric", "us"}
        For the scale bar.
    """
    with _ground(canvas, sketch, units):
        if sketch.course is not None:
            _draw_way(canvas, sketch.course)
        draw_street_names(canvas, sketch.names)
        if sketch.course is not None:
            _draw_depot(canvas, sketch.course)
        _draw_labels(canvas, sketch.labels)


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
    sketch = _sketch(frame, streets, None, _place_labels(frame, centres))
    with _ground(canvas, sketch, units):
        draw_street_names(canvas, sketch.names)
        for name, stops in days.items():
            _draw_outline(canvas, frame, stops)
            for x, y in spots[name].tolist():
                canvas.circle(x, y, 1.3, stroke=0, fill=1)
        _draw_labels(canvas, sketch.labels)


def _sketch(
    frame: Frame,
    streets: Streets,
    course: Coordinates | None,
    labels: list[tuple[StopLabel, float, float]],
) -> Sketch:
    """Add the streets in view, named where no label stands."""
    seen = streets_in_view(frame, streets)
    names = place_street_names(frame, streets, seen, [(x, y) for _, x, y in labels])
    return Sketch(frame, street_lines(frame, streets, seen), names, course, labels)


def _draw_outline(canvas: Canvas, frame: Frame, stops: Coordinates) -> None:
    hull = shapely.MultiPoint(stops).convex_hull.buffer(HULL_METRES)
    path = canvas.beginPath()
    trace(path, frame.place(shapely.get_coordinates(hull)))
    canvas.setLineWidth(1.0)
    canvas.setDash(3, 2)
    canvas.drawPath(path)
    canvas.setDash()


@contextmanager
def _ground(canvas: Canvas, sketch: Sketch, units: str) -> Iterator[None]:
    """Draw streets below and frame, north arrow and scale bar above what the block draws."""
    frame = sketch.frame
    canvas.saveState()
    box = canvas.beginPath()
    box.rect(frame.left, frame.bottom, frame.width, frame.height)
    canvas.clipPath(box, stroke=0, fill=0)
    draw_streets(canvas, frame, sketch.streets)
    yield
    canvas.restoreState()
    canvas.setLineWidth(0.6)
    canvas.rect(frame.left, frame.bottom, frame.width, frame.height)
    draw_north(canvas, frame)
    draw_scale_bar(canvas, frame, units)


def _on_page(frame: Frame, way: shapely.LineString) -> Coordinates:
    drawn = shapely.simplify(way, SMOOTH / frame.scale)
    return frame.place(shapely.get_coordinates(drawn))


def _depot_box(course: Coordinates) -> Box:
    x, y = course[0].tolist()
    half = LABEL_HEIGHT / 2
    return (x - half, y - half, x + half, y + half)


def _draw_depot(canvas: Canvas, course: Coordinates) -> None:
    """Draw the mark that the maps have too: a white D on black."""
    left, bottom, *_ = _depot_box(course)
    canvas.rect(left, bottom, LABEL_HEIGHT, LABEL_HEIGHT, stroke=0, fill=1)
    x, y = course[0].tolist()
    canvas.setFillGray(1)
    draw(canvas, x, y - LABEL_SIZE * 0.36, "D", LABEL_SIZE, bold=True, align="centre")
    canvas.setFillGray(0)


def _draw_way(canvas: Canvas, points: Coordinates) -> None:
    path = canvas.beginPath()
    trace(path, points)
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
    trace(path, corners)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _place_labels(
    frame: Frame, labels: list[StopLabel], *, kept_free: Sequence[Box] = ()
) -> list[tuple[StopLabel, float, float]]:
    sizes = np.array([[_label_width(label), LABEL_HEIGHT] for label in labels])
    spots = np.array([[label.x, label.y] for label in labels])
    right, top = frame.left + frame.width, frame.bottom + frame.height
    corners = [
        (frame.left, frame.bottom, frame.left + 0.4 * frame.width, frame.bottom + 16),
        (right - 24, top - 36, right, top),
    ]
    placed = spread(
        spots, sizes, (frame.left, frame.bottom, right, top), kept_free=[*corners, *kept_free]
    )
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
