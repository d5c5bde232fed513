"""The best visits of all years for a budget, with a bound that its prices prove.

Trees compete only for crew minutes and money. With a price on both, every
tree's best course is found by itself (:mod:`forestcycle.outlook.respond`); a
linear program over the courses found so far corrects the prices
(:mod:`forestcycle.outlook.master`). This is column generation. For any prices
that are not negative, the cost of all best courses less what crews and money
earn at those prices is a lower limit on the loss of any plan, by weak duality,
for whole crews too.
"""

from dataclasses import dataclass

import numpy as np

from forestcycle.outlook.budget import AS_PLANNED, Budget, CrewTerms
from forestcycle.outlook.horizon import MEASURE, Horizon
from forestcycle.outlook.master import Columns, Master, Mixture
from forestcycle.outlook.respond import Prices, Response, Use, blocks, respond, use_cost
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.supply import SKILL_COUNT, Supply, supply
from forestcycle.outlook.trajectory import MEASURES, Trajectory
from forestcycle.progress import Progress, Step, silent

GOOD_GAP = 1e-3
MOST_ROUNDS = 150
KEEP_OLD_PRICES = 0.6
WHOLE_GAP, WHOLE_SECONDS = 2e-3, 20.0
LEAST_HELP = 1e-7
FIRST_PRICES = (0.0, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2)
"""Times the city's mean worth per minute, to have courses to begin with."""


@dataclass(frozen=True)
class HorizonPlan:
    """The best visits for a budget, year by year.

    Attributes
    ----------
    budget : Budget
    trajectory : Trajectory
        Of the years asked for, with whole crews.
    loss : float
        Worth undone over all years counted, those beyond the end included.
    bound : float
        No plan loses less, with whole crews or without.
    relaxed_loss : float
        With parts of crews allowed.
    minute_price : (years, skills) float64
        Worth of one more crew minute with a skill.
    day_price : (years, kinds) float64
        Worth of one more crew-day of each kind of crew.
    cent_price : (years,) float64
        Worth of one more cent.
    prices : Prices
        Behind the bound, for all years counted.
    columns : Columns
        Courses found, a help for other budgets of the same horizon.
    crews : (terms, kinds) float64
        Whole crews by term.
    rounds : int
        Of column generation.
    """

    budget: Budget
    trajectory: Trajectory
    loss: float
    bound: float
    relaxed_loss: float
    minute_price: FloatArray
    day_price: FloatArray
    cent_price: FloatArray
    prices: Prices
    columns: Columns
    crews: FloatArray
    rounds: int

    @property
    def gap(self) -> float:
        """How far the loss may be from the least possible, as a share of the loss."""
        return (self.loss - self.bound) / self.loss if self.loss > 0 else 0.0


def solve_horizon(
    horizon: Horizon,
    budget: Budget,
    *,
    years: int,
    beyond: int = 5,
    terms: CrewTerms = AS_PLANNED,
    known: HorizonPlan | None = None,
    progress: Progress = silent,
) -> HorizonPlan:
    """Find the visits of all years that leave the least worth undone.

    Parameters
    ----------
    horizon : Horizon
    budget : Budget
    years : int
        Years to report.
    beyond : int
        Years counted after these under the same budget, so that the last
        years do not live at the future's expense.
    terms : CrewTerms
    known : HorizonPlan, optional
        Of another budget with the same horizon and years: a start. If its
        crews are affordable here too, the result is no worse than theirs.
    progress : Progress, optional

    Returns
    -------
    HorizonPlan

    Raises
    ------
    PlanError
        Where nothing limits the crews.
    """
    offer = supply(
        horizon.stock.crew_kinds,
        budget,
        years=years + beyond,
        terms=terms,
        storm_days=horizon.chances.storm_days,
    )
    search = _Search(horizon, offer, known.columns if known else None)
    search.run(progress)
    mixture = search.with_whole_crews(None if known is None else known.crews)
    return HorizonPlan(
        budget=budget,
        trajectory=search.trajectory(mixture, years),
        loss=mixture.loss,
        bound=search.bound,
        relaxed_loss=search.relaxed_loss,
        minute_price=search.prices.minute[:years],
        day_price=_day_price(offer, search.prices)[:years],
        cent_price=search.prices.cent[:years],
        prices=search.prices,
        columns=search.columns,
        crews=mixture.crews,
        rounds=search.rounds,
    )


def lower_bound(offer: Supply, prices: Prices, response: Response) -> float:
    """Return a limit below which no plan's loss lies, from prices and the answer to them."""
    return float(response.cost.sum()) - offer.revenue(prices.minute, prices.cent)


def _day_price(offer: Supply, prices: Prices) -> FloatArray:
    best = np.where(offer.has_skill, prices.minute[:, :, None], 0.0).max(axis=1)
    return np.asarray(best * offer.minutes_per_day, dtype=np.float64)


class _Search:
    """Column generation for one budget."""

    def __init__(self, horizon: Horizon, offer: Supply, known: Columns | None) -> None:
        self._horizon, self._offer = horizon, offer
        self.columns = Columns() if known is None else Columns(list(known.block), list(known.use))
        self._master = Master(offer, self.columns, blocks(horizon), np.ones(offer.years))
        self.bound, self.relaxed_loss, self.rounds = -np.inf, np.inf, 0
        self.prices = self._flat_prices(0.0)

    def _flat_prices(self, minute: float) -> Prices:
        return Prices(
            minute=np.full((self._offer.years, SKILL_COUNT), minute),
            cent=np.zeros(self._offer.years),
            measure=self._master.measure_prices(),
        )

    def _begin(self) -> None:
        """Start from doing nothing and from the answers to a few even prices."""
        cells = self._horizon.stock.cells
        worth = (cells.worth * cells.trees * cells.open).sum()
        minutes = (cells.minutes * cells.trees * cells.open).sum()
        rate = worth / max(minutes, 1.0)
        nobody = self._flat_prices(1e12)
        for prices in [nobody, *(self._flat_prices(rate * factor) for factor in FIRST_PRICES)]:
            use = self._ask(prices)
            self.columns.add(use, np.ones(len(use.cents), dtype=np.bool_))

    def _ask(self, prices: Prices) -> Use:
        """Let trees answer prices, and keep the bound if it is better."""
        response = respond(self._horizon, prices)
        limit = lower_bound(self._offer, prices, response)
        if limit > self.bound:
            self.bound, self.prices = limit, prices
        return response.use

    def run(self, progress: Progress) -> None:
        """Improve prices until loss and bound meet."""
        if not self.columns.block:
            self._begin()
        for number in range(MOST_ROUNDS):
            self.rounds = number + 1
            found = self._master.relaxed()
            self.relaxed_loss = found.mixture.loss
            progress(Step("looking ahead", number + 1, worth=self.relaxed_loss, bound=self.bound))
            if self.relaxed_loss - self.bound <= GOOD_GAP * self.relaxed_loss:
                break
            use = self._ask(self._between(found.prices))
            cheaper = use_cost(use, found.prices) < found.block_cost - LEAST_HELP
            if not cheaper.any():
                use = self._ask(found.prices)
                cheaper = use_cost(use, found.prices) < found.block_cost - LEAST_HELP
            if not cheaper.any():
                break
            self.columns.add(use, cheaper)

    def _between(self, prices: Prices) -> Prices:
        """Stay near the best prices so far: this steadies the search."""
        if not np.isfinite(self.bound):
            return prices
        keep = KEEP_OLD_PRICES
        return Prices(
            minute=keep * self.prices.minute + (1 - keep) * prices.minute,
            cent=keep * self.prices.cent + (1 - keep) * prices.cent,
            measure=prices.measure,
        )

    def with_whole_crews(self, known: FloatArray | None) -> Mixture:
        """Return the best mixture with whole crews."""
        found = self._master.whole(gap=WHOLE_GAP, seconds=WHOLE_SECONDS)
        tried = [found] if found is not None else []
        if known is not None and known.shape == (self._offer.terms, len(self._offer.crew_kinds)):
            same = self._master.with_crews(known)
            tried += [same] if same is not None else []
        return min(tried, key=lambda mixture: mixture.loss)

    def trajectory(self, mixture: Mixture, years: int) -> Trajectory:
        """Return what a mixture of courses means year by year and ward by ward."""
        stock, offer = self._horizon.stock, self._offer
        block, use = self.columns.joined()
        ward = block % len(stock.wards)
        figures = np.zeros((len(stock.wards), years, len(MEASURES)))
        np.add.at(figures, ward, mixture.share[:, None, None] * use.measures[:, :years])
        paid = mixture.paid_days[:years]
        cents = paid @ offer.day_cents + figures[:, :, MEASURE["direct_cents"]].sum(axis=0)
        return Trajectory(
            wards=stock.wards,
            measures={name: figures[:, :, place].T for name, place in MEASURE.items()},
            crews=mixture.crews[offer.term_of_year[:years]],
            crew_days=paid,
            cents=cents,
        )
