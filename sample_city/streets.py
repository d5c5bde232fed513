"""The street network: dense and regular in the middle, sparse and bent outside."""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree

from sample_city.ground import (
    Floats,
    Ground,
    Integers,
    Random,
    Shapes,
    Texts,
    Truths,
    draw_lines,
)
from sample_city.names import close_names, street_names

POINTS_PER_BLOCK = 5
BRIDGE_EVERY_METRES = 650.0
ARTERIAL_EVERY = 6
BOULEVARD_EVERY = 18
NUMBERS_PER_BLOCK = 100


@dataclass(frozen=True)
class Streets:
    """One row per block of street.

    Attributes
    ----------
    line : (m,) object of LineString
        Drawn in the driving direction where ``one_way``.
    street : (m,) object of str
    one_way : (m,) bool
    speed_kmh : (m,) float64
        NaN where the city has none on record.
    first_number : (m,) int64
        House numbers of the block start here.
    plantable : (m,) bool
        False on bridges.
    stretch : (m,) int64
        Blocks planted to one scheme share it.
    """

    line: Shapes
    street: Texts
    one_way: Truths
    speed_kmh: Floats
    first_number: Integers
    plantable: Truths
    stretch: Integers


@dataclass(frozen=True)
class _Blocks:
    """Blocks while the network is being cut to shape; ``start`` and ``end`` are crossings."""

    start: Integers
    end: Integers
    line: Shapes
    run: Integers
    place_in_run: Integers
    bridge: Truths

    def __len__(self) -> int:
        return len(self.start)

    def keep(self, wanted: Truths | Integers) -> "_Blocks":
        return _Blocks(
            *(
                getattr(self, name)[wanted]
                for name in ("start", "end", "line", "run", "place_in_run", "bridge")
            )
        )


def make_streets(ground: Ground, random: Random) -> Streets:
    """Draw the street network.

    Parameters
    ----------
    ground : Ground
    random : Generator

    Returns
    -------
    Streets
        All of it can be reached from everywhere, one-way streets included.
    """
    blocks = _cut_by_land(_lattice(ground, random), ground)
    blocks = _largest_piece(blocks)
    blocks = _thin_suburbs(blocks, ground, random)
    runs, run = np.unique(blocks.run, return_inverse=True)
    blocks = replace(blocks, run=run.astype(np.int64))
    arterial = (runs % ARTERIAL_EVERY == 0)[run]
    blocks, one_way = _one_way(blocks, ~arterial & ~blocks.bridge, len(runs), ground, random)
    names = street_names(len(runs), random)[run]
    side_street = random.choice([25.0, 30.0, 30.0, 35.0], len(runs))
    speed = np.where(arterial, 45.0, side_street[run])
    speed[(runs % BOULEVARD_EVERY == 0)[run]] = 60.0
    speed[random.uniform(size=len(speed)) < 0.03] = np.nan
    stretch = run * 1000 + blocks.place_in_run // 8
    number = NUMBERS_PER_BLOCK * (1 + blocks.place_in_run)
    streets = Streets(blocks.line, names, one_way, speed, number, ~blocks.bridge, stretch)
    return _add_closes(streets, ground, random)


def _lattice(ground: Ground, random: Random) -> _Blocks:
    reach = int(np.ceil(ground.half))
    i, j = np.meshgrid(np.arange(-reach, reach + 1), np.arange(-reach, reach + 1), indexing="ij")
    inside = ground.inside(i.astype(float), j.astype(float))
    shift = random.normal(0, 5.0, (2, *i.shape))
    number = np.arange(i.size, dtype=np.int64).reshape(i.shape)
    parts = []
    for step_i, step_j in ((1, 0), (0, 1)):
        near = np.s_[: i.shape[0] - step_i, : i.shape[1] - step_j]
        far = np.s_[step_i:, step_j:]
        both = inside[near] & inside[far]
        share = np.linspace(0, 1, POINTS_PER_BLOCK)
        x, y = ground.place(
            i[near][both][:, None] + share * step_i, j[near][both][:, None] + share * step_j
        )
        x += shift[0][near][both][:, None] * (1 - share) + shift[0][far][both][:, None] * share
        y += shift[1][near][both][:, None] * (1 - share) + shift[1][far][both][:, None] * share
        across, along = (j, i) if step_i else (i, j)
        parts.append(
            _Blocks(
                number[near][both],
                number[far][both],
                draw_lines(np.stack([x, y], axis=-1)),
                2 * (across[near][both] + reach) + step_i,
                along[near][both] + reach,
                np.zeros(int(both.sum()), dtype=bool),
            )
        )
    return _Blocks(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("start", "end", "line", "run", "place_in_run", "bridge")
        )
    )


def _cut_by_land(blocks: _Blocks, ground: Ground) -> _Blocks:
    """Take out the blocks in parks and in the river, but for its bridges."""
    wet = _touching(blocks.line, np.array([ground.river], dtype=object))
    in_park = _touching(blocks.line, shapely.buffer(ground.parks, 4.0))
    middle = shapely.get_coordinates(shapely.centroid(ground.river))[0]
    here = shapely.get_coordinates(shapely.centroid(blocks.line[wet]))
    along = here - middle
    place = np.where(along[:, 0] < 0, -1, 1) * np.hypot(along[:, 0], along[:, 1])
    banks = shapely.difference(blocks.line[wet], ground.river)
    spans = (shapely.get_num_geometries(banks) == 2) & ~in_park[wet]
    rows = np.flatnonzero(wet)[spans]
    _, first = np.unique(np.floor(place[spans] / BRIDGE_EVERY_METRES), return_index=True)
    bridge = np.zeros(len(blocks), dtype=bool)
    bridge[rows[first]] = True
    return replace(blocks, bridge=bridge).keep((~wet & ~in_park) | bridge)


def _touching(lines: Shapes, areas: Shapes) -> Truths:
    hit = np.zeros(len(lines), dtype=bool)
    hit[shapely.STRtree(lines).query(areas, predicate="intersects")[1]] = True
    return hit


def _graph(blocks: _Blocks, weight: Floats) -> coo_array:
    size = int(max(blocks.start.max(), blocks.end.max())) + 1
    # 32 bits: scipy before 1.17 takes no other index for a spanning tree.
    ends = (blocks.start.astype(np.int32), blocks.end.astype(np.int32))
    return coo_array((weight, ends), shape=(size, size))


def _largest_piece(blocks: _Blocks) -> _Blocks:
    _, piece = connected_components(_graph(blocks, np.ones(len(blocks))), directed=False)
    of_block = piece[blocks.start]
    return blocks.keep(of_block == np.bincount(of_block).argmax())


def _thin_suburbs(blocks: _Blocks, ground: Ground, random: Random) -> _Blocks:
    """Drop blocks towards the edge of the town, leaving a way to everywhere."""
    chance = random.uniform(size=len(blocks))
    tree = minimum_spanning_tree(_graph(blocks, chance + 0.001)).tocoo()
    size = tree.shape[0]
    needed = np.isin(blocks.start * size + blocks.end, tree.row.astype(np.int64) * size + tree.col)
    middle = shapely.get_coordinates(
        shapely.line_interpolate_point(blocks.line, 0.5, normalized=True)
    )
    remote = ground.remoteness(middle[:, 0], middle[:, 1])
    wanted = chance < np.clip(1.15 - 0.95 * remote, 0.25, 1.0)
    arterial = blocks.run % ARTERIAL_EVERY == 0
    return blocks.keep(needed | wanted | (arterial & (chance < 0.9)) | blocks.bridge)


def _one_way(
    blocks: _Blocks, eligible: Truths, runs: int, ground: Ground, random: Random
) -> tuple[_Blocks, Truths]:
    """Make some central streets one-way; two ways again where that would cut someone off."""
    chosen = random.uniform(size=runs) < 0.4
    backwards = random.uniform(size=runs) < 0.5
    middle = shapely.get_coordinates(
        shapely.line_interpolate_point(blocks.line, 0.5, normalized=True)
    )
    central = ground.remoteness(middle[:, 0], middle[:, 1]) < 0.55
    one_way = chosen[blocks.run] & central & eligible
    flip = one_way & backwards[blocks.run]
    line = np.where(flip, shapely.reverse(blocks.line), blocks.line)
    start = np.where(flip, blocks.end, blocks.start)
    end = np.where(flip, blocks.start, blocks.end)
    blocks = replace(blocks, start=start, end=end, line=line)
    forth = _graph(blocks, np.ones(len(blocks))).tocsr()
    back = _graph(blocks, (~one_way).astype(float)).tocsr().T
    _, piece = connected_components(forth + back, directed=True, connection="strong")
    return blocks, one_way & (piece[start] == piece[end])


def _add_closes(streets: Streets, ground: Ground, random: Random) -> Streets:
    """Add short dead ends that leave a suburban block half-way along it."""
    length = shapely.length(streets.line)
    share = random.uniform(0.42, 0.58, len(length))
    middle = shapely.line_interpolate_point(streets.line, share, normalized=True)
    at = shapely.get_coordinates(middle)
    remote = ground.remoteness(at[:, 0], at[:, 1])
    likely = random.uniform(size=len(length)) < 0.3
    parents = np.flatnonzero(likely & (remote > 0.5) & (length > 110) & streets.plantable)
    ends = shapely.get_coordinates(streets.line[parents]).reshape(len(parents), POINTS_PER_BLOCK, 2)
    chord = ends[:, -1] - ends[:, 0]
    side = np.where(random.uniform(size=len(parents)) < 0.5, -1.0, 1.0)
    normal = np.column_stack([-chord[:, 1], chord[:, 0]]) / np.hypot(*chord.T)[:, None]
    reach = (side * random.uniform(55, 80, len(parents)))[:, None]
    start = at[parents]
    line = draw_lines(np.stack([start, start + reach * normal], axis=1))
    free = _stands_free(line, streets.line, ground)
    line, parents = line[free], parents[free]
    count = len(line)
    return Streets(
        np.concatenate([streets.line, line]),
        np.concatenate([streets.street, close_names(count, random)]),
        np.concatenate([streets.one_way, np.zeros(count, dtype=bool)]),
        np.concatenate([streets.speed_kmh, np.full(count, 20.0)]),
        np.concatenate([streets.first_number, np.ones(count, dtype=np.int64)]),
        np.concatenate([streets.plantable, np.ones(count, dtype=bool)]),
        np.concatenate([streets.stretch, streets.stretch[parents]]),
    )


def _stands_free(line: Shapes, others: Shapes, ground: Ground) -> Truths:
    """Whether new lines keep clear of all blocks but their own, of each other, park and river."""
    to_streets = shapely.STRtree(others).query(line, predicate="dwithin", distance=15.0)[0]
    to_lines = shapely.STRtree(line).query(line, predicate="dwithin", distance=30.0)[0]
    land = np.concatenate([ground.parks, [ground.river]])
    count = len(line)
    alone: Truths = (
        (np.bincount(to_streets, minlength=count) == 1)
        & (np.bincount(to_lines, minlength=count) == 1)
        & ~_touching(line, shapely.buffer(land, 10.0))
    )
    return alone
