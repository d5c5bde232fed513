"""A bound that knows whole crews, from the prices met on the way.

For any prices, the loss of a plan with crews ``c`` is at least the cost of the trees' best
courses, less what the money is worth, less what the crews earn: a figure that is linear in ``c``.
The least loss that satisfies all these limits over whole numbers of crews is a limit for every
plan with whole crews (Benders 1962: cuts from dual prices). Its crews are the next to try.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array

from forestcycle.outlook.respond import Prices, Response
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.supply import Supply
from forestcycle.schedule.glop import solve_whole_with_bound
from forestcycle.schedule.linear_program import LinearProgram

TOLERANCE = 1e-6
"""Share of the bound given up for what the solver calls equal."""
SECONDS = 10.0


class CrewChoice(NamedTuple):
    """The whole crews that could lose least, as far as the cuts tell.

    Attributes
    ----------
    crews : (terms, kinds) float64
    bound : float
        No plan with whole crews loses less.
    """

    crews: FloatArray
    bound: float


@dataclass(frozen=True)
class _Cut:
    """``loss >= level - earned . crews``."""

    level: float
    earned: FloatArray


class CrewCuts:
    """Limits on the loss as functions of the crews.

    Parameters
    ----------
    supply : Supply
        What can be hired; not yet with given crews.
    """

    def __init__(self, supply: Supply) -> None:
        self._supply = supply
        self._cuts: list[_Cut] = []

    def add(self, prices: Prices, response: Response) -> None:
        """Keep what prices and the trees' answer to them say about every choice of crews.

        Parameters
        ----------
        prices : Prices
        response : Response
        """
        level = float(response.cost.sum()) - self._supply.money_worth(prices.cent)
        earned = self._supply.earned_per_crew(prices.minute, prices.cent)
        self._cuts.append(_Cut(level, earned.ravel()))

    def least(self, *, loss: float) -> CrewChoice | None:
        """Return the whole crews of the least loss that no cut excludes, None if none was found.

        Parameters
        ----------
        loss : float
            A loss of about the size to be expected, by which figures are scaled.

        Returns
        -------
        CrewChoice or None
        """
        scale = loss or 1.0
        program = self._program(scale)
        whole = np.ones(len(program.worth), dtype=np.bool_)
        whole[0] = False
        found = solve_whole_with_bound(program, whole, gap=0.0, seconds=SECONDS)
        if found is None:
            return None
        x, least = found[0], -found[1] * scale
        crews = np.rint(x[1:]).reshape(self._supply.most_crews.shape)
        return CrewChoice(crews, least - TOLERANCE * abs(least))

    def _program(self, scale: float) -> LinearProgram:
        """Lay out the loss and then the crews, by term and kind.

        Prices met with few crews given may be huge, and so are the cuts from them: every cut is
        divided by its largest figure, else the solver's tolerances would swallow the loss.
        """
        offer = self._supply
        terms, kinds = offer.most_crews.shape
        earned = np.stack([cut.earned for cut in self._cuts]) / scale
        level = np.array([cut.level for cut in self._cuts]) / scale
        size = np.maximum(np.maximum(np.abs(earned).max(axis=1), np.abs(level)), 1.0)
        earned, level = earned / size[:, None], level / size
        together = np.isfinite(offer.most_together)
        in_term = np.repeat(np.eye(terms), kinds, axis=1)[together]
        limited = np.isfinite(offer.cents)
        wages = np.eye(terms)[offer.term_of_year][:, :, None] * (offer.day_cents * offer.days)
        wages = (wages * offer.least_paid[:, None, None]).reshape(offer.years, -1)[limited]
        money = np.maximum(offer.cents[limited], 1.0)
        rows = np.vstack(
            [
                np.hstack([1 / size[:, None], earned]),
                np.hstack([np.zeros((len(in_term), 1)), in_term]),
                np.hstack([np.zeros((len(wages), 1)), wages / money[:, None]]),
            ]
        )
        high = [np.full(len(level), np.inf), offer.most_together[together], np.ones(len(wages))]
        below = np.full(len(in_term) + len(wages), -np.inf)
        worth = np.zeros(1 + terms * kinds)
        worth[0] = -1.0
        return LinearProgram(
            worth=worth,
            most=np.append(np.inf, offer.most_crews.ravel()),
            rows=csr_array(rows),
            low=np.concatenate([level, below]),
            high=np.concatenate(high),
        )
