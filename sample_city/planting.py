"""Where trees stand: along the streets in front of addresses, and in the parks."""

from dataclasses import dataclass, fields

import numpy as np
import shapely

from sample_city.ground import Floats, Ground, Integers, Random, Shapes, Texts, Truths
from sample_city.streets import Streets

CORNER_METRES = 9.0
"""Corners stay clear so that drivers can see."""
KERB_METRES = 5.6
LOT_METRES = 14.0
PARK_SPACING_METRES = 13.0


@dataclass(frozen=True)
class Sites:
    """Planting sites.

    Attributes
    ----------
    x, y : (n,) float64
    street, address, park : (n,) object of str
        ``park`` is empty along streets, ``street`` and ``address`` in parks.
    stretch : (n,) int64
        Sites planted to one scheme share it; -1 in parks.
    wires_here : (n,) int64
        0 no overhead conductors, 1 low voltage, 2 high voltage.
    width_m : (n,) float64
    """

    x: Floats
    y: Floats
    street: Texts
    address: Texts
    park: Texts
    stretch: Integers
    wires_here: Integers
    width_m: Floats

    def __len__(self) -> int:
        return len(self.x)

    def keep(self, rows: Integers | Truths) -> "Sites":
        """Pick sites, in the order given."""
        return Sites(*(getattr(self, field.name)[rows] for field in fields(self)))


def join_sites(first: Sites, second: Sites) -> Sites:
    """Put two lists of sites one after the other."""
    return Sites(
        *(
            np.concatenate([getattr(first, field.name), getattr(second, field.name)])
            for field in fields(Sites)
        )
    )


def street_sites(streets: Streets, random: Random) -> Sites:
    """Set out planting sites on both sides of the streets, then leave many empty.

    Parameters
    ----------
    streets : Streets
    random : Generator

    Returns
    -------
    Sites
    """
    blocks = np.flatnonzero(streets.plantable)
    length = shapely.length(streets.line[blocks])
    spacing = random.choice([8.0, 9.0, 10.0, 12.0], len(blocks))
    count = np.maximum(0, np.floor((length - 2 * CORNER_METRES) / spacing)).astype(np.int64)
    stocked = random.beta(4, 3, len(blocks))
    wires = random.choice([0, 1, 2], len(blocks), p=[0.62, 0.33, 0.05])
    wired_side = random.choice([-1, 1], len(blocks))
    width = random.choice([1.2, 1.5, 1.8, 2.4, 3.0], len(blocks))
    per_side = np.repeat(np.arange(len(blocks)), count)
    nth = np.arange(len(per_side)) - np.repeat(np.cumsum(count) - count, count)
    row = np.concatenate([per_side, per_side])
    side = np.repeat([1, -1], len(per_side))
    offset = CORNER_METRES + (np.concatenate([nth, nth]) + 0.5) * spacing[row]
    offset += random.normal(0, 0.5, len(row))
    grown = random.uniform(size=len(row)) < stocked[row]
    row, side, offset = row[grown], side[grown], offset[grown]
    x, y = _beside(streets.line[blocks[row]], offset, side, random)
    number = streets.first_number[blocks[row]] + 2 * (offset / LOT_METRES).astype(np.int64)
    number += side > 0
    street = streets.street[blocks[row]]
    address = np.char.add(np.char.add(number.astype(str), " "), street.astype(str)).astype(object)
    return Sites(
        x,
        y,
        street,
        address,
        np.full(len(row), "", dtype=object),
        streets.stretch[blocks[row]],
        np.where(wired_side[row] == side, wires[row], 0),
        width[row],
    )


def _beside(line: Shapes, offset: Floats, side: Integers, random: Random) -> tuple[Floats, Floats]:
    here = shapely.get_coordinates(shapely.line_interpolate_point(line, offset))
    ahead = shapely.get_coordinates(shapely.line_interpolate_point(line, offset + 0.5))
    along = ahead - here
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    out = side * (KERB_METRES + random.normal(0, 0.35, len(side)))
    return here[:, 0] - along[:, 1] * out, here[:, 1] + along[:, 0] * out


def park_sites(ground: Ground, names: Texts, random: Random) -> Sites:
    """Scatter planting sites over the parks.

    Parameters
    ----------
    ground : Ground
    names : (k,) object of str
        Of ``ground.parks``.
    random : Generator

    Returns
    -------
    Sites
    """
    bounds = shapely.bounds(ground.parks)
    across = np.ceil((bounds[:, 2] - bounds[:, 0]) / PARK_SPACING_METRES).astype(np.int64)
    up = np.ceil((bounds[:, 3] - bounds[:, 1]) / PARK_SPACING_METRES).astype(np.int64)
    park = np.repeat(np.arange(len(names)), across * up)
    nth = np.arange(len(park)) - np.repeat(np.cumsum(across * up) - across * up, across * up)
    shift = random.uniform(0.1, 0.9, (2, len(park)))
    x = bounds[park, 0] + (nth % across[park] + shift[0]) * PARK_SPACING_METRES
    y = bounds[park, 1] + (nth // across[park] + shift[1]) * PARK_SPACING_METRES
    grown = random.uniform(size=len(park)) < 0.45
    grown &= shapely.contains_xy(ground.parks[park], x, y)
    park, x, y = park[grown], x[grown], y[grown]
    nothing = np.full(len(park), "", dtype=object)
    none_here = np.zeros(len(park), dtype=np.int64)
    return Sites(
        x, y, nothing, nothing, names[park], none_here - 1, none_here, np.full(len(park), 6.0)
    )
