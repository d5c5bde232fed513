"""Which piece of ground a paper map shows, and where it lies on the page."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from reportlab.pdfgen.pathobject import PDFPathObject

from forestcycle.publish.map_labels import Coordinates

LEAST_METRES = 150.0
"""The shorter side of the map shows at least this much ground."""
MARGIN = 0.08
LEAST_SHARE_OF_SCALE = 0.6
"""The whole way is shown where the stops then keep this share of the scale they have alone."""
SMOOTH = 0.3
"""Points by which a drawn line may miss its true course."""


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
        """Turn metres into points on the page.

        Parameters
        ----------
        coordinates : float64 (k, 2)

        Returns
        -------
        float64 (k, 2)
        """
        corner = np.array([self.west, self.south])
        placed: Coordinates = (coordinates - corner) * self.scale + (self.left, self.bottom)
        return placed


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


def frame_of_day(
    stops: Coordinates, way: shapely.LineString | None, box: tuple[float, float, float, float]
) -> Frame:
    """Show a day's whole way, with the depot; where that is far, the stops alone.

    Parameters
    ----------
    stops : float64 (k, 2)
        Metres.
    way : LineString or None
        From the depot over all stops and back.
    box : tuple of float
        Left, bottom, width, height in points.

    Returns
    -------
    Frame
    """
    near = frame_around(stops, box)
    if way is None:
        return near
    whole = frame_around(np.concatenate([stops, shapely.get_coordinates(way)]), box)
    return whole if whole.scale >= LEAST_SHARE_OF_SCALE * near.scale else near


def trace(path: PDFPathObject, points: Coordinates) -> None:
    """Continue a path along points on the page.

    Parameters
    ----------
    path : PDFPathObject
    points : float64 (k, 2)
    """
    (x, y), *rest = points.tolist()
    path.moveTo(x, y)
    for x, y in rest:
        path.lineTo(x, y)


def lines_path(points: Coordinates, begins: NDArray[np.bool_]) -> PDFPathObject:
    """Make a path of many lines at once, to hundredths of a point.

    Parameters
    ----------
    points : float64 (k, 2)
        On the page, of all lines one after another.
    begins : bool (k,)
        Whether a line begins there.

    Returns
    -------
    PDFPathObject
    """
    operators = np.where(begins, "m", "l").tolist()
    triples = zip(*points.T.tolist(), operators, strict=True)
    return PDFPathObject(code=["n", *map("%.2f %.2f %s".__mod__, triples)])
