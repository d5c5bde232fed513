"""The lie of the land: how the lattice of blocks bends, the river, the parks."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

Random = np.random.Generator
Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]
Texts = npt.NDArray[np.object_]
Shapes = npt.NDArray[np.object_]

CRS = "EPSG:32626"
"""UTM zone 26 north: metres, and open ocean where the city lies."""
MIDDLE = (500_000.0, 4_983_000.0)
BLOCK_METRES = (95.0, 80.0)
STRETCH = 0.5
TURNED = np.radians(17.0)


@dataclass(frozen=True)
class Ground:
    """Where the town lies.

    Attributes
    ----------
    half : float
        Blocks from the middle to the edge of the town.
    phase : (6,) float64
        Of the waves that bend its streets.
    river : Polygon
    parks : (k,) object of Polygon
    """

    half: float
    phase: Floats
    river: shapely.Polygon
    parks: Shapes

    def inside(self, i: Floats, j: Floats) -> Truths:
        """Whether lattice points belong to the town."""
        angle = np.arctan2(j, i)
        edge = self.half * (0.9 + 0.1 * np.sin(3 * angle + self.phase[4]))
        result: Truths = np.hypot(i, j) <= edge
        return result

    def remoteness(self, x: Floats, y: Floats) -> Floats:
        """Distance from the middle, 0 there and 1 at the edge of the town."""
        result: Floats = np.hypot(x - MIDDLE[0], y - MIDDLE[1]) / town_radius(self.half)
        return result

    def place(self, i: Floats, j: Floats) -> tuple[Floats, Floats]:
        """Turn lattice points into eastings and northings."""
        return bend(i, j, self.half, self.phase)


def town_radius(half: float) -> float:
    """Metres from the middle to the edge of the town, roughly."""
    return half * (BLOCK_METRES[0] + BLOCK_METRES[1]) / 2 * (1 + STRETCH)


def bend(i: Floats, j: Floats, half: float, phase: Floats) -> tuple[Floats, Floats]:
    """Turn lattice points into eastings and northings.

    Blocks grow towards the edge of the town, long waves bend the streets,
    and the whole is turned out of the compass directions.
    """
    stretch = 1 + STRETCH * (i**2 + j**2) / half**2
    x, y = i * BLOCK_METRES[0] * stretch, j * BLOCK_METRES[1] * stretch
    wave_x = 38 * np.sin(y / 150 + phase[0]) + 60 * np.sin((x + y) / 420 + phase[1])
    wave_y = 34 * np.sin(x / 160 + phase[2]) + 60 * np.sin((x - y) / 450 + phase[3])
    return turn(x + wave_x, y + wave_y)


def turn(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Turn plain coordinates about the middle of the town and move them there."""
    cos, sin = np.cos(TURNED), np.sin(TURNED)
    return MIDDLE[0] + x * cos - y * sin, MIDDLE[1] + x * sin + y * cos


def draw_lines(points: Floats) -> Shapes:
    """Draw one line per row of points, shape (m, k, 2), to the centimetre."""
    return np.asarray(shapely.linestrings(np.round(points, 2)), dtype=object)


def make_ground(half: float, random: Random) -> Ground:
    """Lay out river and parks for a town.

    Parameters
    ----------
    half : float
        Blocks from the middle to the edge.
    random : Generator

    Returns
    -------
    Ground
    """
    phase = random.uniform(0, 2 * np.pi, 6)
    radius = town_radius(half)
    along = np.linspace(-1.3 * radius, 1.3 * radius, 160)
    across = radius * (-0.22 + 0.11 * np.sin(along / (0.26 * radius) + phase[5]))
    river = shapely.LineString(np.column_stack(turn(along, across))).buffer(28.0)
    count = max(3, round(half**2 / 60))
    parks = _parks(count, radius, random)
    dry = shapely.difference(parks, river.buffer(15.0))
    return Ground(half, phase, river, _largest_parts(dry))


def _parks(count: int, radius: float, random: Random) -> Shapes:
    away = 0.6 * radius * np.sqrt(random.uniform(0, 1, count))
    angle = random.uniform(0, 2 * np.pi, count)
    size = random.uniform(70, 190, count)
    around = np.linspace(0, 2 * np.pi, 36, endpoint=False)
    lobes, shift = random.integers(2, 5, (count, 1)), random.uniform(0, 6, (count, 1))
    reach = size[:, None] * (1 + 0.22 * np.sin(lobes * around + shift))
    x, y = turn(away * np.cos(angle), away * np.sin(angle))
    outline = np.stack(
        [x[:, None] + reach * np.cos(around), y[:, None] + 0.75 * reach * np.sin(around)], axis=-1
    )
    merged = shapely.union_all(shapely.polygons(outline))
    return shapely.get_parts(merged)


def _largest_parts(shapes: Shapes) -> Shapes:
    parts = shapely.get_parts(shapes)
    return parts[shapely.area(parts) > 4_000]
