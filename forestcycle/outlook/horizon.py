"""The dynamics of a city: where trees go in a year with and without a visit, and what it means."""

from dataclasses import dataclass

from scipy.sparse import csr_array

from forestcycle.outlook.chances import Chances
from forestcycle.outlook.effects import Effects, effects_in_the_first_year, effects_later
from forestcycle.outlook.rates import check_rates, rates_of_states
from forestcycle.outlook.stock import Stock
from forestcycle.outlook.transitions import visiting_step, waiting_step


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
    rates = rates_of_states(stock, chances)
    check_rates(rates)
    return Horizon(
        stock=stock,
        chances=chances,
        waiting=waiting_step(rates),
        visiting=visiting_step(rates),
        first_year=effects_in_the_first_year(rates),
        later=effects_later(rates),
    )
