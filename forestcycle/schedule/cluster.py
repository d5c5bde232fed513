"""A few crew-days and the trees they may choose from, ready to be searched."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forestcycle.schedule.kernel import (
    Ground,
    Pool,
    Routes,
    Scratch,
    copy_routes,
    gather,
    refresh,
    search,
    value_of,
)
from forestcycle.schedule.problem import FloatArray

POOL_ROWS = 512
MINUTE_PRICE = 0.1
POOL_BAND = 0.02
APPEAL_POWERS = (0.6, 0.8, 1.0, 1.3, 1.7)


@dataclass(frozen=True)
class Route:
    """One crew-day's stops in order: positions in the cluster."""

    crew_day: int
    stops: tuple[int, ...]


def make_ground(
    leg: FloatArray,
    out: FloatArray,
    back: FloatArray,
    service: FloatArray,
    worth: FloatArray,
    capacity: FloatArray,
    *,
    earliest: FloatArray | None = None,
    latest: FloatArray | None = None,
    day_price: FloatArray | None = None,
) -> Ground:
    """Prepare m stops and k crew-days for searching.

    Parameters
    ----------
    leg : (m, m) float64
        Minutes between stops, parking included.
    out, back : (k, m) float64
        Minutes from and to each crew-day's depot.
    service, worth : (m,) float64
        Stops of worth 0 or less are never taken.
    capacity : (k,) float64
        Minutes from leaving the depot to being back.
    earliest, latest : (k, m) float64, optional
        Bounds on the start of service, in minutes since leaving the depot;
        ``latest`` below 0 forbids the visit.
    day_price : (k,) float64, optional
        Worth that using a crew-day costs.

    Returns
    -------
    Ground
    """
    shape = out.shape
    open_all_day = earliest is None and latest is None
    early = np.zeros(shape) if earliest is None else earliest
    late = np.full(shape, np.inf) if latest is None else latest
    timed = not open_all_day and bool(((early > 0) | (np.isfinite(late) & (late >= 0))).any())
    positive = np.maximum(worth, 0.0)
    both_ways = out.min(axis=0) + back.min(axis=0) if shape[0] else np.zeros(shape[1])
    per_minute = positive / (service + np.median(leg) / 2 + 1e-9)
    orders = [np.argsort(-key, kind="stable") for key in (positive, per_minute, both_ways)]
    return Ground(
        leg=np.ascontiguousarray(leg, dtype=np.float64),
        into=np.ascontiguousarray(leg.T, dtype=np.float64),
        out=np.ascontiguousarray(out, dtype=np.float64),
        back=np.ascontiguousarray(back, dtype=np.float64),
        service=service.astype(np.float64),
        worth=worth.astype(np.float64),
        capacity=capacity.astype(np.float64),
        earliest=np.ascontiguousarray(early, dtype=np.float64),
        latest=np.ascontiguousarray(np.where(worth > 0, late, -1.0), dtype=np.float64),
        near=np.argsort(leg + leg.T, axis=1, kind="stable").astype(np.int32),
        orders=np.array(orders, dtype=np.int32),
        appeal=np.array([positive**power for power in APPEAL_POWERS]),
        day_price=np.zeros(shape[0]) if day_price is None else day_price.astype(np.float64),
        bonus=np.zeros(shape),
        pull=np.zeros(shape),
        timed=timed,
        minute_price=MINUTE_PRICE * _worth_per_minute(positive, service, capacity),
    )


def with_bonus(ground: Ground, bonus: FloatArray) -> Ground:
    """Make a stop's worth depend on the crew-day that visits it.

    No minutes are saved for their own sake any more: a change needs a reason.

    Parameters
    ----------
    ground : Ground
    bonus : (k, m) float64
        What each stop is worth on each crew-day beside its worth.

    Returns
    -------
    Ground
    """
    minute_worth = ground.minute_price / MINUTE_PRICE
    pull = bonus / minute_worth if minute_worth > 0 else np.zeros(bonus.shape)
    bonus, pull = (np.ascontiguousarray(a, dtype=np.float64) for a in (bonus, pull))
    return ground._replace(bonus=bonus, pull=pull, minute_price=0.0)


def _worth_per_minute(worth: FloatArray, service: FloatArray, capacity: FloatArray) -> float:
    """Rough worth of a crew minute: of the trees that would fill the days."""
    rank = np.argsort(-worth / (service + 1e-9), kind="stable")
    filled = np.cumsum(service[rank]) <= capacity.sum()
    chosen = rank[filled]
    return float(worth[chosen].sum() / max(capacity.sum(), 1e-9))


def _empty_routes(days: int, stops: int) -> Routes:
    return Routes(
        stop=np.zeros((days, stops + 1), dtype=np.int32),
        length=np.zeros(days, dtype=np.int64),
        gap=np.zeros((days, stops + 2)),
        arrive=np.zeros((days, stops + 1)),
        latest=np.zeros((days, stops + 1)),
        minutes=np.zeros(days),
        where=np.full(stops, -1, dtype=np.int64),
    )


class ClusterSearch:
    """A search that can be continued: call :meth:`run` as often as time allows.

    Parameters
    ----------
    ground : Ground
    seed : int
    start : sequence of Route
        Feasible routes to start from; a route that is not is left out.
    """

    def __init__(self, ground: Ground, *, seed: int, start: Sequence[Route] = ()) -> None:
        days, stops = ground.out.shape
        self.ground = ground
        self._current = _empty_routes(days, stops)
        self._trial = _empty_routes(days, stops)
        self._best = _empty_routes(days, stops)
        self._pool = Pool(
            stop=np.zeros((POOL_ROWS, stops + 1), dtype=np.int32),
            length=np.zeros(POOL_ROWS, dtype=np.int64),
            crew_day=np.zeros(POOL_ROWS, dtype=np.int64),
            rows=np.zeros(1, dtype=np.int64),
            seen=np.zeros(8 * POOL_ROWS, dtype=np.uint64),
        )
        self._scratch = Scratch(
            cost=np.zeros((days, stops)),
            position=np.zeros((days, stops), dtype=np.int64),
            active=np.zeros(stops, dtype=np.int32),
            touched=np.zeros(days, dtype=np.bool_),
            improved=np.zeros(days, dtype=np.bool_),
            shut=np.zeros(days, dtype=np.bool_),
        )
        self._random = np.random.SeedSequence(seed).generate_state(1, np.uint64) | np.uint64(1)
        self._lay(start)

    def _lay(self, start: Sequence[Route]) -> None:
        for route in start:
            r, count = route.crew_day, len(route.stops)
            self._current.stop[r, :count] = route.stops
            self._current.length[r] = count
            if refresh(self.ground, self._current, r):
                self._current.where[list(route.stops)] = r
            else:
                self._current.length[r] = 0
                refresh(self.ground, self._current, r)
        everything = np.ones(len(self._best.length), dtype=np.bool_)
        copy_routes(self._current, self._trial, everything)
        copy_routes(self._current, self._best, everything)
        gather(self._best, everything, self._pool)

    def run(self, steps: int, *, hot: float, cold: float) -> float:
        """Take ``steps`` steps while the temperature falls from hot to cold.

        Parameters
        ----------
        steps : int
        hot, cold : float
            Temperatures as a share of the mean worth of a stop.

        Returns
        -------
        float
            Value of the best routes so far.
        """
        worth = self.ground.worth
        scale = float(np.median(worth[worth > 0])) if (worth > 0).any() else 1.0
        band = POOL_BAND * max(value_of(self.ground, self._best), scale)
        return float(
            search(
                self.ground,
                self._current,
                self._trial,
                self._best,
                self._pool,
                self._scratch,
                self._random,
                steps,
                hot * scale,
                cold * scale,
                band,
            )
        )

    @property
    def routes(self) -> list[Route]:
        """Best routes so far, one per crew-day."""
        best = self._best
        return [
            Route(r, tuple(best.stop[r, : best.length[r]].tolist()))
            for r in range(len(best.length))
        ]

    @property
    def pool(self) -> list[Route]:
        """Distinct good routes seen on the way."""
        pool = self._pool
        rows = min(int(pool.rows[0]), POOL_ROWS)
        return [
            Route(int(pool.crew_day[row]), tuple(pool.stop[row, : pool.length[row]].tolist()))
            for row in range(rows)
        ]


def warm_up() -> None:
    """Compile the search, once per machine, on a cluster of one stop.

    Whoever counts seconds calls this before the clock starts.
    """
    one = np.ones((1, 1))
    for latest in (None, np.full((1, 1), 9.0)):
        ground = make_ground(
            np.zeros((1, 1)), one, one, np.ones(1), np.ones(1), np.full(1, 9.0), latest=latest
        )
        ClusterSearch(ground, seed=0).run(1, hot=1.0, cold=1.0)
