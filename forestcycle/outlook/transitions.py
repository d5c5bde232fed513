"""A year's step: the share of a state's trees that is in each state a year later."""

import numpy as np
from scipy.sparse import coo_array, csr_array

from forestcycle.outlook.faults import (
    AFTER_VISIT,
    NO_RECORD,
    PAST,
    SLIGHT_1,
    SLIGHT_2,
    UPKEEP,
    WORSE,
)
from forestcycle.outlook.rates import Rates
from forestcycle.outlook.states import FloatArray, IntArray


def waiting_step(rates: Rates) -> csr_array:
    """Return the step without a visit.

    Faults worsen, are outgrown, or come with a storm; the visit comes a year nearer.

    Parameters
    ----------
    rates : Rates

    Returns
    -------
    (states, states) sparse float64
        Origin by row; rows add up to 1.
    """
    moves, fault = _Moves(rates), rates.fault
    nearer = np.asarray(rates.clock - 1.0, dtype=np.float64)
    outgrown = rates.faults * rates.outgrows
    slight = (fault == SLIGHT_1) | (fault == SLIGHT_2)
    worse = np.where(slight, rates.worsens, 0.0)
    calm = rates.unrecorded | (fault == PAST)
    storm = np.where(calm, rates.chances.storm_damage * (1 - outgrown), 0.0)
    worse_fault = np.where(fault == SLIGHT_1, WORSE[SLIGHT_1], WORSE[SLIGHT_2])
    moves.add(outgrown, np.full_like(fault, PAST), nearer)
    moves.add(worse, worse_fault, nearer)
    moves.add(storm, np.full_like(fault, UPKEEP), np.minimum(nearer, 0.0))
    moves.add(np.maximum(1 - outgrown - worse - storm, 0), fault, nearer)
    return moves.matrix()


def visiting_step(rates: Rates) -> csr_array:
    """Return the step with a visit: one visit's work is done, and the next promise opens.

    Parameters
    ----------
    rates : Rates

    Returns
    -------
    (states, states) sparse float64
        Origin by row; rows add up to 1.
    """
    moves, fault = _Moves(rates), rates.fault
    more = np.where(rates.unrecorded, rates.faults * rates.takes_two, 0.0)
    after = AFTER_VISIT[fault]
    span = np.where(after == NO_RECORD, rates.with_none, rates.with_work)
    moves.add(more, np.full_like(fault, SLIGHT_1), rates.with_work - 1.0)
    moves.add(1 - more, after, span - 1.0)
    return moves.matrix()


class _Moves:
    """Gathers the entries of a transition matrix."""

    def __init__(self, rates: Rates) -> None:
        self._rates = rates
        self._entries: list[tuple[IntArray, IntArray, FloatArray]] = []
        self._origin = np.indices(rates.shape).reshape(4, -1)

    def add(self, share: FloatArray, fault: IntArray, clock: FloatArray) -> None:
        """Move a share of every state to a fault and a clock, which may lie between years."""
        below = np.floor(clock)
        self._add(share * (below + 1 - clock), fault, below)
        self._add(share * (clock - below), fault, below + 1)

    def _add(self, share: FloatArray, fault: IntArray, clock: FloatArray) -> None:
        grows = self._rates.grows
        self._put(share * (1 - grows), fault, clock, 0)
        self._put(share * grows, fault, clock, 1)

    def _put(self, share: FloatArray, fault: IntArray, clock: FloatArray, larger: int) -> None:
        space = self._rates.stock.states
        kind, size, _, _ = self._origin
        kept = np.flatnonzero(share.ravel() > 0)
        to = space.index(
            kind[kept],
            np.minimum(size[kept] + larger, space.shape[1] - 1),
            np.broadcast_to(fault, space.shape).ravel()[kept],
            np.broadcast_to(clock, space.shape).ravel()[kept].astype(np.int64),
        )
        self._entries.append((kept, to, share.ravel()[kept]))

    def matrix(self) -> csr_array:
        """Return the shares as a matrix, origin by row."""
        count = self._rates.stock.states.count
        origin, to, share = (np.concatenate(part) for part in zip(*self._entries, strict=True))
        return csr_array(coo_array((share, (origin, to)), shape=(count, count)))
