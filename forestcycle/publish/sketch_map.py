"""A street sketch for paper: numbered stops, the day's way, north arrow, scale bar.

Black on white and legible in grey: nothing is said by colour.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

import numpy as np
import shapely
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from forestcycle.publish.map_labels import Coordinates, StopLabel, spread, stop_labels
from forestcycle.publish.pdf_text import draw, width
from forestcycle.publish.sketch_frame import SMOOTH, Frame, trace
from forestcycle.publish.sketch_scale import draw_north, draw_scale_bar
from forestcycle.publish.sketch_streets import Streets, draw_streets, name_streets

Box = tuple[float, float, float, float]
"""Left, bottom, right, top in points."""

LABEL_SIZE = 7.0
LABEL_HEIGHT = 10.0
HULL_METRES = 30.0


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
    course = None if way is None else _on_page(frame, way)
    depot = [] if course is None else [_depot_box(course)]
    labels = _place_labels(frame, stop_labels(frame.place(stops)), kept_free=depot)
    with _ground(canvas, frame, streets, units) as seen:
        if course is not None:
            _draw_way(canvas, course)
        name_streets(canvas, frame, streets, seen, [(x, y) for _, x, y in labels])
        if course is not None:
            _draw_depot(canvas, course)
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
        name_streets(canvas, frame, streets, seen, [(x, y) for _, x, y in labels])
        for name, stops in days.items():
            _draw_outline(canvas, frame, stops)
            for x, y in spots[name].tolist():
                canvas.circle(x, y, 1.3, stroke=0, fill=1)
        _draw_labels(canvas, labels)


def _draw_outline(canvas: Canvas, frame: Frame, stops: Coordinates) -> None:
    hull = shapely.MultiPoint(stops).convex_hull.buffer(HULL_METRES)
    path = canvas.beginPath()
    trace(path, frame.place(shapely.get_coordinates(hull)))
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
    draw_streets(canvas, frame, streets, seen)
    yield seen
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
