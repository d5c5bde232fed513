"""Yearly rates and shares of every state under given chances."""

from dataclasses import dataclass

import numpy as np

from forestcycle.errors import Fault, SettingsError
from forestcycle.outlook.chances import Chances
from forestcycle.outlook.faults import CORRECTABLE, NO_RECORD, PAST, SLIGHT_1
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray
from forestcycle.outlook.stock import Stock


@dataclass(frozen=True)
class Rates:
    """Rates and shares of every state, each of the state space's shape.

    Attributes
    ----------
    stock : Stock
    chances : Chances
    fault, clock : int64
        Of the state itself.
    grows : float64
        Share that moves on to the next size.
    outgrows : float64
        Share of the correctable faults that go past correcting.
    worsens : float64
        Share of the slight faults that become grave.
    prior_share : float64
        Chance of a structural fault that is not on record.
    unrecorded : bool
        Trees of the state have no fault on record.
    built_up : float64
        How far that chance has built up since the last visit, 0..1; 1 with a record.
    faults : float64
        Structural faults that can still be corrected, expected per tree.
    takes_two : float64
        Share of the trees without record whose work takes a second visit.
    with_work, with_none : float64
        Years from a visit until due, with work left and with none.
    ripeness : float64
        How far the crown has rested since the last visit, 0..1.
    late_spans : float64
        Promised spans by which the visit is late.
    """

    stock: Stock
    chances: Chances
    fault: IntArray
    clock: IntArray
    grows: FloatArray
    outgrows: FloatArray
    worsens: FloatArray
    prior_share: FloatArray
    unrecorded: BoolArray
    built_up: FloatArray
    faults: FloatArray
    takes_two: FloatArray
    with_work: FloatArray
    with_none: FloatArray
    ripeness: FloatArray
    late_spans: FloatArray

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """Shape of the state space."""
        return self.stock.states.shape


def rates_of_states(stock: Stock, chances: Chances) -> Rates:
    """Work out the rates of every state from the pace of a city's trees.

    Parameters
    ----------
    stock : Stock
    chances : Chances

    Returns
    -------
    Rates
    """
    pace, space = stock.pace, stock.states

    def by_size(values: FloatArray) -> FloatArray:
        both = np.broadcast_to(values, space.shape[:2])
        return np.broadcast_to(both[:, :, None, None], space.shape)

    fault = np.broadcast_to(np.arange(space.shape[2])[:, None], space.shape)
    clock = np.broadcast_to(space.clock, space.shape)
    with_work, with_none = by_size(pace.years_with_work), by_size(pace.years_with_none)
    prior_share = by_size(pace.prior_share * chances.new_faults)
    unrecorded = fault == NO_RECORD
    built = np.clip((with_none - clock) / by_size(pace.prior_years), 0, 1)
    hidden = prior_share * built * by_size(pace.correctable)
    span = np.where(_has_work_left(fault), with_work, with_none) - by_size(pace.least_years)
    ripening = np.clip(1 - (clock - 0.5) / np.maximum(span, 0.5), 0, 1)
    return Rates(
        stock=stock,
        chances=chances,
        fault=fault,
        clock=clock,
        grows=by_size(pace.grows * chances.growth),
        outgrows=by_size(pace.outgrows * chances.growth),
        worsens=by_size(pace.worsens * chances.worsening),
        prior_share=prior_share,
        unrecorded=unrecorded,
        built_up=np.where(unrecorded, built, 1.0),
        faults=np.where(unrecorded, hidden, CORRECTABLE[fault]),
        takes_two=by_size(pace.takes_two),
        with_work=with_work,
        with_none=with_none,
        ripeness=np.where(clock <= 0, 1.0, ripening),
        late_spans=np.maximum(0.5 - clock, 0) / np.maximum(by_size(pace.grace_years), 1e-9),
    )


def _has_work_left(fault: IntArray) -> BoolArray:
    return np.asarray((fault >= SLIGHT_1) & (fault < PAST), dtype=np.bool_)


def check_rates(rates: Rates) -> None:
    """Refuse shares over 1.

    Parameters
    ----------
    rates : Rates

    Raises
    ------
    SettingsError
        With a fault for each chance that would move more than all trees of a state.
    """
    chances = rates.chances
    shares = {
        "growth factor": (chances.growth, rates.grows, "of a size would leave it"),
        "new faults factor": (
            chances.new_faults,
            rates.prior_share,
            "of the trees without record would have a fault",
        ),
        "worsening factor": (
            chances.worsening,
            rates.worsens + rates.outgrows,
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
