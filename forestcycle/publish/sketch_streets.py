"""Streets of a paper map and their names."""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from forestcycle.publish.map_labels import Coordinates
from forestcycle.publish.pdf_text import draw, width
from forestcycle.publish.sketch_frame import SMOOTH, Frame, trace
from forestcycle.publish.text import plain

STREET_SIZE = 5.6
STREET_METRES = 12.0
NAME_PLACES = (0.5, 0.3, 0.7, 0.15, 0.85)
"""Shares of a street's length at which its name may stand, the first tried first."""
STRAIGHT = 0.97
"""Least chord over length of the piece under a name."""
MOST_STREET_NAMES = 40


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


def draw_streets(canvas: Canvas, frame: Frame, streets: Streets, seen: NDArray[np.int64]) -> None:
    """Draw street lines as a white way between grey edges.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    streets : Streets
    seen : int64 (k,)
        Rows of the lines to draw.
    """
    path = canvas.beginPath()
    for line in shapely.simplify(streets.lines[seen], SMOOTH / frame.scale):
        trace(path, frame.place(shapely.get_coordinates(line)))
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


def name_streets(
    canvas: Canvas,
    frame: Frame,
    streets: Streets,
    seen: NDArray[np.int64],
    taken: list[tuple[float, float]],
) -> None:
    """Print each street's name once, along its longest piece in view.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    streets : Streets
    seen : int64 (k,)
        Rows of the lines in view.
    taken : list of (float, float)
        Spots on the page that a name must not cover; names printed are added.
    """
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
