"""A year's step: where trees go with and without a visit, and what either means."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from forestcycle.errors import Fault, SettingsError
from forestcycle.outlook.chances import Chances
from forestcycle.outlook.states import (
    CORRECTABLE,
    FAULTS,
    GRAVE_1,
    GRAVE_2,
    GRAVE_3,
    NO_RECORD,
    PAST,
    SLIGHT_1,
    SLIGHT_2,
    UPKEEP,
    BoolArray,
    FloatArray,
    IntArray,
)
from forestcycle.outlook.stock import Stock
from forestcycle.outlook.trajectory import MEASURES

WORSE = {SLIGHT_1: GRAVE_2, SLIGHT_2: GRAVE_3}
AFTER_VISIT = (
    NO_RECORD,
    NO_RECORD,
    NO_RECORD,
    SLIGHT_1,
    NO_RECORD,
    GRAVE_1,
    GRAVE_2,
    NO_RECORD,
)
"""Fault on record after a visit, by the fault before it."""
DOSE_LEFT = (0.0, 0.0, 0.0, 1 / 2, 0.0, 1 / 2, 2 / 3, 0.0)
"""Share of the dose that is still owed after a visit, by the fault before it."""
MEASURE = {name: place for place, name in enumerate(MEASURES)}


@dataclass(frozen=True)
class Effects:
    """What a year means for trees of some kind, per tree; n is states or cells.

    Attributes
    ----------
    waiting, visited : (measures, n) float64
        Figures of the year if the tree is not visited, and if it is, except
        for minutes and direct costs, which depend on the skill.
    skill_share : (n, skills) float64
        Share of the trees whose visit needs each skill.
    minutes : (n, skills) float64
        Crew minutes at a tree whose visit needs that skill.
    cents : (n, skills) float64
        Direct cost of a visit that needs that skill.
    open : (n,) bool
        Whether a visit is possible.
    """

    waiting: FloatArray
    visited: FloatArray
    skill_share: FloatArray
    minutes: FloatArray
    cents: FloatArray
    open: BoolArray


@dataclass(frozen=True)
class Horizon:
    """The dynamics of a city under given chances.

    Attributes
    ----------
    stock : Stock
    chances : Chances
    waiting, visiting : (states, states) sparse float64
        Share of a state's trees that are in each state a year later.
    first_year : Effects
        Per cell of the stock.
    later : Effects
        Per state.
    """

    stock: Stock
    chances: Chances
    waiting: csr_array
    visiting: csr_array
    first_year: Effects
    later: Effects


def look_ahead(stock: Stock, chances: Chances) -> Horizon:
    """Work out a city's yearly transitions and what they mean.

    Parameters
    ----------
    stock : Stock
    chances : Chances

    Returns
    -------
    Horizon

    Raises
    ------
    SettingsError
        Where a chance would move more than all trees of a state in a year.
    """
    rates = _Rates(stock, chances)
    rates.check()
    return Horizon(
        stock=stock,
        chances=chances,
        waiting=_waiting(rates),
        visiting=_visiting(rates),
        first_year=_first_year(rates),
        later=_later(rates),
    )


class _Rates:
    """Rates and shares of every state, as blocks of the state space's shape."""

    def __init__(self, stock: Stock, chances: Chances) -> None:
        pace, space = stock.pace, stock.states
        self.stock, self.chances = stock, chances
        self.shape = space.shape
        shape4 = space.shape
        self.fault = np.broadcast_to(np.arange(shape4[2])[:, None], shape4)
        self.clock = np.broadcast_to(space.clock, shape4)
        self.grows = self._by_size(pace.grows * chances.growth)
        self.outgrows = self._by_size(pace.outgrows * chances.growth)
        self.worsens = self._by_size(pace.worsens * chances.worsening)
        self.prior_share = self._by_size(pace.prior_share * chances.new_faults)
        self.least = self._by_size(np.broadcast_to(pace.least_years, shape4[:2]))
        self.grace = self._by_size(np.broadcast_to(pace.grace_years, shape4[:2]))
        self.with_work = self._by_size(pace.years_with_work)
        self.with_none = self._by_size(pace.years_with_none)
        self.unrecorded = self.fault == NO_RECORD
        since = self.with_none - self.clock
        built = np.clip(since / self._by_size(pace.prior_years), 0, 1)
        self.built_up = np.where(self.unrecorded, built, 1.0)
        hidden = self.prior_share * built * self._by_size(pace.correctable)
        recorded = np.zeros(len(FAULTS))
        recorded[CORRECTABLE] = 1
        self.faults = np.where(self.unrecorded, hidden, recorded[self.fault])
        self.takes_two = self._by_size(pace.takes_two)
        work_left = (self.fault >= SLIGHT_1) & (self.fault < PAST)
        span = np.where(work_left, self.with_work, self.with_none) - self.least
        self.ripeness = np.clip(1 - (self.clock - 0.5) / np.maximum(span, 0.5), 0, 1)
        self.ripeness = np.where(self.clock <= 0, 1.0, self.ripeness)
        self.late_spans = np.maximum(0.5 - self.clock, 0) / np.maximum(self.grace, 1e-9)

    def _by_size(self, values: FloatArray) -> FloatArray:
        return np.broadcast_to(values[:, :, None, None], self.shape)

    def check(self) -> None:
        """Refuse shares over 1.

        Raises
        ------
        SettingsError
        """
        shares = {
            "growth factor": (self.chances.growth, self.grows, "of a size would leave it"),
            "new faults factor": (
                self.chances.new_faults,
                self.prior_share,
                "of the trees without record would have a fault",
            ),
            "worsening factor": (
                self.chances.worsening,
                self.worsens + self.outgrows,
                "of the slight faults would get worse",
            ),
        }
        faults = [
            Fault(
                f"{name} = {factor:g}: {share.max():.0%} {what} in one year",
                "outlook.csv",
                "rates are shares of at most 100 % a year; lower the factor",
            )
            for name, (factor, share, what) in shares.items()
            if share.max() > 1 + 1e-9
        ]
        if faults:
            raise SettingsError(faults)


class _Moves:
    """Gathers the entries of a transition matrix."""

    def __init__(self, rates: _Rates) -> None:
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


def _waiting(rates: _Rates) -> csr_array:
    """Faults worsen, are outgrown, or come with a storm; the visit comes a year nearer."""
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


def _visiting(rates: _Rates) -> csr_array:
    """Do one visit's work, and open the next promise."""
    moves, fault = _Moves(rates), rates.fault
    more = np.where(rates.unrecorded, rates.faults * rates.takes_two, 0.0)
    after = np.array(AFTER_VISIT)[fault]
    span = np.where(after == NO_RECORD, rates.with_none, rates.with_work)
    moves.add(more, np.full_like(fault, SLIGHT_1), rates.with_work - 1.0)
    moves.add(1 - more, after, span - 1.0)
    return moves.matrix()


def _later(rates: _Rates) -> Effects:
    stock, means = rates.stock, rates.stock.means
    clocks = rates.shape[3]

    def spread(values: FloatArray) -> FloatArray:
        return np.repeat(values[..., None], clocks, axis=3)

    def by_skill(values: FloatArray) -> FloatArray:
        repeated = np.repeat(values[:, :, :, None, :], clocks, axis=3)
        return repeated.reshape(stock.states.count, -1)

    overdue = np.minimum(rates.late_spans, stock.most_overdue_spans) * (rates.clock <= 0)
    worth = rates.ripeness * rates.built_up * spread(means.points)
    worth = worth + stock.overdue_points * overdue
    owed = spread(means.dose_owed) * np.where(rates.fault == PAST, rates.ripeness, rates.built_up)
    waiting, visited = _figures(
        rates,
        np.arange(stock.states.count),
        worth=worth.ravel(),
        dose_owed=owed.ravel(),
        faults=rates.faults.ravel(),
    )
    return Effects(
        waiting=waiting,
        visited=visited,
        skill_share=by_skill(means.skill_share),
        minutes=by_skill(means.minutes) * rates.chances.minutes,
        cents=by_skill(means.cents),
        open=(rates.ripeness > 0).ravel(),
    )


def _first_year(rates: _Rates) -> Effects:
    cells = rates.stock.cells
    skills = rates.stock.means.skill_share.shape[-1]
    waiting, visited = _figures(
        rates,
        cells.state,
        worth=cells.worth,
        dose_owed=cells.dose_owed,
        faults=cells.faults,
    )
    return Effects(
        waiting=waiting,
        visited=visited,
        skill_share=np.eye(skills)[cells.skill],
        minutes=np.tile(cells.minutes[:, None], skills) * rates.chances.minutes,
        cents=np.tile(cells.cents[:, None], skills),
        open=cells.open,
    )


def _figures(
    rates: _Rates,
    state: IntArray,
    *,
    worth: FloatArray,
    dose_owed: FloatArray,
    faults: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Figures per tree of a year without and with a visit, in the order of ``MEASURES``."""
    none = np.zeros(len(state))
    every = np.ones(len(state))
    overdue = (rates.late_spans > 1).ravel()[state].astype(np.float64)
    size = np.unravel_index(state, rates.shape)[1]
    young = (rates.stock.states.age_of_size[size] == 0).astype(np.float64)
    fault = rates.fault.ravel()[state]
    outgrown = faults * rates.outgrows.ravel()[state]
    unrecorded = fault == NO_RECORD
    done = np.where(
        unrecorded,
        1 - rates.takes_two.ravel()[state],
        np.array(AFTER_VISIT)[fault] == NO_RECORD,
    )
    left = np.where(unrecorded, 0.0, np.array(DOSE_LEFT)[fault])
    figures: dict[str, tuple[FloatArray, FloatArray]] = {
        "trees": (every, every),
        "visits": (none, every),
        "minutes": (none, none),
        "direct_cents": (none, none),
        "worth_done": (none, worth),
        "worth_undone": (worth, none),
        "on_recall": (1 - overdue, every),
        "overdue": (overdue, none),
        "young": (young, young),
        "young_on_recall": (young * (1 - overdue), young),
        "due_unvisited": ((rates.clock <= 0).ravel()[state].astype(np.float64), none),
        "structural": (faults - outgrown, faults * (1 - done)),
        "corrected": (none, faults * done),
        "past_correcting": (outgrown, none),
        "dose_owed": (dose_owed, dose_owed * left),
    }
    waiting = np.stack([figures[name][0] for name in MEASURES])
    visited = np.stack([figures[name][1] for name in MEASURES])
    return waiting, visited
