"""Streets of a paper map and their names."""

from dataclasses import dataclass
from functools import cached_property

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from forestcycle.publish.map_labels import Coordinates
from forestcycle.publish.pdf_text import draw, width
from forestcycle.publish.sketch_frame import SMOOTH, Frame, lines_path
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

    @cached_property
    def whole(self) -> dict[str, shapely.Geometry]:
        """All lines of each named street."""
        lines: dict[str, list[shapely.LineString]] = {}
        for name, line in zip(self.names, self.lines, strict=True):
            if name:
                lines.setdefault(name, []).append(line)
        return {name: shapely.union_all(own) for name, own in lines.items()}


@dataclass(frozen=True)
class StreetName:
    """A street's name on the page.

    Attributes
    ----------
    text : str
    x, y : float
        Its middle in points.
    degrees : float
        How it is turned.
    """

    text: str
    x: float
    y: float
    degrees: float


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


def streets_in_view(frame: Frame, streets: Streets) -> NDArray[np.int64]:
    """Look up the street lines that a map shows.

    Parameters
    ----------
    frame : Frame
    streets : Streets

    Returns
    -------
    int64 (k,)
        Rows of the lines.
    """
    return np.asarray(streets.tree.query(frame.ground), dtype=np.int64)


def street_lines(frame: Frame, streets: Streets, seen: NDArray[np.int64]) -> PDFPathObject:
    """Lay street lines out on the page.

    Parameters
    ----------
    frame : Frame
    streets : Streets
    seen : int64 (k,)
        Rows of the lines in view.

    Returns
    -------
    PDFPathObject
    """
    lines = shapely.simplify(streets.lines[seen], SMOOTH / frame.scale, preserve_topology=False)
    points, line = shapely.get_coordinates(lines, return_index=True)
    return lines_path(frame.place(points), np.diff(line, prepend=-1) > 0)


def draw_streets(canvas: Canvas, frame: Frame, lines: PDFPathObject) -> None:
    """Draw street lines as a white way between grey edges.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    lines : PDFPathObject
        From :func:`street_lines`.
    """
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    across = min(max(STREET_METRES * frame.scale, 0.8), 5.0)
    for thickness, grey in ((across, 0.72), (across - 1.2, 1.0)):
        if thickness <= 0:
            continue
        canvas.setLineWidth(thickness)
        canvas.setStrokeGray(grey)
        canvas.drawPath(lines)
    canvas.setStrokeGray(0)


def place_street_names(
    frame: Frame,
    streets: Streets,
    seen: NDArray[np.int64],
    taken: list[tuple[float, float]],
) -> list[StreetName]:
    """Find room for each street's name once, along its longest piece in view.

    Parameters
    ----------
    frame : Frame
    streets : Streets
    seen : int64 (k,)
        Rows of the lines in view.
    taken : list of (float, float)
        Spots on the page that a name must not cover.

    Returns
    -------
    list of StreetName
        Those that find room.
    """
    taken = list(taken)
    placed = []
    for name, line in _longest_pieces(frame, streets, seen):
        spot = _free_spot(line, width(name, STREET_SIZE), taken)
        if spot is not None:
            x, y, angle = spot
            taken.append((x, y))
            placed.append(StreetName(name, x, y, angle if -90 < angle <= 90 else angle + 180))
    return placed


def draw_street_names(canvas: Canvas, names: list[StreetName]) -> None:
    """Print street names along their streets.

    Parameters
    ----------
    canvas : Canvas
    names : list of StreetName
    """
    for name in names:
        across = width(name.text, STREET_SIZE)
        canvas.saveState()
        canvas.translate(name.x, name.y)
        canvas.rotate(name.degrees)
        canvas.setFillGray(1)
        canvas.rect(-across / 2 - 1, -2.6, across + 2, 5.6, stroke=0, fill=1)
        canvas.setFillGray(0.25)
        draw(canvas, 0, -STREET_SIZE * 0.34, name.text, STREET_SIZE, align="centre")
        canvas.restoreState()


def _longest_pieces(
    frame: Frame, streets: Streets, seen: NDArray[np.int64]
) -> list[tuple[str, shapely.LineString]]:
    """Longest unbroken pieces in view of the streets shown longest, on the page."""
    names = [name for name in dict.fromkeys(streets.names[row] for row in seen) if name]
    if not names:
        return []
    whole = np.array([streets.whole[name] for name in names], dtype=object)
    inside = shapely.line_merge(shapely.clip_by_rect(whole, *frame.ground.bounds))
    pieces, street = shapely.get_parts(inside, return_index=True)
    longest: list[tuple[str, shapely.LineString]] = []
    for piece in np.argsort(-shapely.length(pieces), kind="stable"):
        if len(longest) == MOST_STREET_NAMES:
            break
        if street[piece] >= 0:
            placed = frame.place(shapely.get_coordinates(pieces[piece]))
            longest.append((names[street[piece]], shapely.LineString(placed)))
            street[street == street[piece]] = -1
    return longest


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
