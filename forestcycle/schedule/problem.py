"""What the packer is asked."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forestcycle.travel.travel import Minutes

MINUTES_PER_DAY = 1440.0

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Problem:
    """Trees to choose from, crew-days to fill, and every limit.

    Shapes use n trees, c crew-days, t dates, w windows, f funds, r wards. Only
    trees that at least one crew-day could visit are in it.

    Attributes
    ----------
    tree : (n,) int64
        Row in ``Inventory.trees``.
    place : (n,) int64
        Travel node at which the truck parks.
    x, y : (n,) float64
        Metres; used to form compact territories, never as travel.
    worth : (n,) float64
        Worth of the visit, above 0.
    service_minutes : (n,) float64
    cost_cents : (n,) int64
        Direct cost of the visit.
    fund, ward : (n,) int64
        -1 where there is none.
    skill : (n,) uint32
        Bits of which the crew must have every one.
    window : (n,) int64
        Row of ``open_on``.
    open_on : (w, t) bool
        Dates on which a window is open.
    hours_from, hours_until : (n,) float64
        Minutes of the day between which the service must lie.
    mandatory : (n,) bool
    date : (c,) int64
        Column of ``open_on``.
    crew : (c,) int64
    depot : (c,) int64
        Travel node where the crew-day starts and ends.
    start_minute : (c,) float64
        Minute of the day at which the crew leaves the depot.
    capacity_minutes : (c,) float64
        Minutes from leaving the depot to being back, less the break.
    break_after, break_minutes : (c,) float64
        The break starts once this many working minutes have passed and the
        crew is between two stops; it moves the clock, not the capacity.
    crew_skill : (c,) uint32
    day_cost_cents : (c,) int64
        Paid once the crew-day has a stop.
    budget_cents : int or None
        Limit on tree costs and day costs together.
    fund_budget_cents : (f,) int64
        Limit on the tree costs of each fund.
    ward_least_share : (r,) float64
        Least share of all planned service minutes that falls to each ward.
    parking_minutes : float
        Paid on arrival at a tree from another place.
    travel : Minutes
    """

    tree: IntArray
    place: IntArray
    x: FloatArray
    y: FloatArray
    worth: FloatArray
    service_minutes: FloatArray
    cost_cents: IntArray
    fund: IntArray
    ward: IntArray
    skill: NDArray[np.uint32]
    window: IntArray
    open_on: BoolArray
    hours_from: FloatArray
    hours_until: FloatArray
    mandatory: BoolArray
    date: IntArray
    crew: IntArray
    depot: IntArray
    start_minute: FloatArray
    capacity_minutes: FloatArray
    break_after: FloatArray
    break_minutes: FloatArray
    crew_skill: NDArray[np.uint32]
    day_cost_cents: IntArray
    budget_cents: int | None
    fund_budget_cents: IntArray
    ward_least_share: FloatArray
    parking_minutes: float
    travel: Minutes

    @property
    def trees(self) -> int:
        """Number of trees."""
        return len(self.tree)

    @property
    def crew_days(self) -> int:
        """Number of crew-days."""
        return len(self.date)

    @property
    def has_hours(self) -> bool:
        """Whether any tree may be worked in a part of the day only."""
        return bool((self.hours_from > 0).any() or (self.hours_until < MINUTES_PER_DAY).any())
