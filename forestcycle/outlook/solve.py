"""The best visits of all years for a budget, with a bound that its prices prove.

Trees compete only for crew minutes and money. With a price on both, every
tree's best course is found by itself (:mod:`forestcycle.outlook.respond`); a
linear program over the courses found so far corrects the prices
(:mod:`forestcycle.outlook.master`). This is column generation. For any prices
that are not negative, the cost of all best courses less what crews and money
earn at those prices is a lower limit on the loss of any plan, by weak duality,
for whole crews too.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from forestcycle.outlook.budget import AS_PLANNED, Budget, CrewTerms
from forestcycle.outlook.horizon import Horizon
from forestcycle.outlook.master import Columns, Master, Mixture, Relaxed, needed_crews
from forestcycle.outlook.policies import trajectory_of
from forestcycle.outlook.respond import Prices, Response, Use, blocks, respond, use_cost
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.supply import SKILL_COUNT, Supply, supply
from forestcycle.outlook.trajectory import Trajectory
from forestcycle.progress import Progress, Step, silent

GOOD_GAP = 1e-3
MOST_ROUNDS = 150
KEEP_OLD_PRICES = 0.6
POLISHING_ROUNDS = 30
WHOLE_GAP, WHOLE_SECONDS = 2e-3, 20.0
NOBODY_PAYS = 1e12
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
    columns = Columns() if known is None else known.columns.copy()
    search = _Search(horizon, offer, columns)
    relaxed = search.run(progress)
    mixture = _with_whole_crews(horizon, offer, columns, relaxed, known, progress)
    return HorizonPlan(
        budget=budget,
        trajectory=_trajectory(horizon, offer, columns, mixture, years),
        loss=mixture.loss,
        bound=search.bound,
        relaxed_loss=relaxed.loss,
        minute_price=search.prices.minute[:years],
        day_price=_day_price(offer, search.prices)[:years],
        cent_price=search.prices.cent[:years],
        prices=search.prices,
        columns=columns,
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
    """Column generation for one supply of crews and money."""

    def __init__(self, horizon: Horizon, offer: Supply, columns: Columns) -> None:
        self._horizon, self._offer, self._columns = horizon, offer, columns
        self.master = Master(offer, columns, blocks(horizon), np.ones(offer.years))
        self.bound, self.rounds = -np.inf, 0
        self.prices = self._flat_prices(0.0)

    def _flat_prices(self, minute: float) -> Prices:
        return Prices(
            minute=np.full((self._offer.years, SKILL_COUNT), minute),
            cent=np.zeros(self._offer.years),
            measure=self.master.measure_prices(),
        )

    def _begin(self) -> None:
        """Start from doing nothing and from the answers to a few even prices."""
        cells = self._horizon.stock.cells
        worth = (cells.worth * cells.trees * cells.open).sum()
        minutes = (cells.minutes * cells.trees * cells.open).sum()
        rate = worth / max(minutes, 1.0)
        nobody = self._flat_prices(NOBODY_PAYS)
        for prices in [nobody, *(self._flat_prices(rate * factor) for factor in FIRST_PRICES)]:
            use = self._ask(prices)
            self._columns.add(use, np.ones(len(use.cents), dtype=np.bool_))

    def _ask(self, prices: Prices) -> Use:
        """Let trees answer prices, and keep the bound if it is better."""
        response = respond(self._horizon, prices)
        limit = lower_bound(self._offer, prices, response)
        if limit > self.bound:
            self.bound, self.prices = limit, prices
        return response.use

    def run(self, progress: Progress, *, rounds: int = MOST_ROUNDS) -> Mixture:
        """Improve prices until loss and bound meet."""
        if not self._columns.block:
            self._begin()
        while True:
            self.rounds += 1
            found = self.master.relaxed()
            loss = found.mixture.loss
            progress(Step("looking ahead", self.rounds, worth=loss, bound=self.bound))
            if loss - self.bound <= GOOD_GAP * loss or self.rounds >= rounds:
                return found.mixture
            if not any(self._improve(found, prices) for prices in self._tries(found)):
                return found.mixture

    def _tries(self, found: Relaxed) -> Iterator[Prices]:
        """Prices between the best and the latest, which steadies the search; then the latest."""
        if np.isfinite(self.bound):
            keep, best, now = KEEP_OLD_PRICES, self.prices, found.prices
            yield Prices(
                minute=keep * best.minute + (1 - keep) * now.minute,
                cent=keep * best.cent + (1 - keep) * now.cent,
                measure=now.measure,
            )
        yield found.prices

    def _improve(self, found: Relaxed, prices: Prices) -> bool:
        """Add the courses that are cheaper than what their block does now."""
        use = self._ask(prices)
        cheaper = use_cost(use, found.prices) < found.block_cost - LEAST_HELP
        self._columns.add(use, cheaper)
        return bool(cheaper.any())


def _with_whole_crews(
    horizon: Horizon,
    offer: Supply,
    columns: Columns,
    relaxed: Mixture,
    known: HorizonPlan | None,
    progress: Progress,
) -> Mixture:
    """Return the best mixture found with whole crews.

    Crews rounded up will do where only days worked are paid. Else a
    mixed-integer program over the courses found so far chooses, and more
    courses are generated for its crews.
    """
    tried = []
    for crews in (needed_crews(offer, relaxed), None if known is None else known.crews):
        mixture = _mixture_with(horizon, offer, columns, crews)
        tried += [] if mixture is None else [mixture]
    if min((mixture.loss for mixture in tried), default=np.inf) > relaxed.loss * (1 + GOOD_GAP):
        master = Master(offer, columns, blocks(horizon), np.ones(offer.years))
        progress(Step("choosing whole crews"))
        chosen = master.whole(gap=WHOLE_GAP, seconds=WHOLE_SECONDS)
        if chosen is not None:
            search = _Search(horizon, offer.with_crews(chosen.crews), columns)
            tried += [chosen, search.run(progress, rounds=POLISHING_ROUNDS)]
    best = min(tried, key=lambda mixture: mixture.loss)
    pad = len(np.concatenate(columns.block)) - len(best.share)
    return replace(best, share=np.append(best.share, np.zeros(pad)))


def _mixture_with(
    horizon: Horizon, offer: Supply, columns: Columns, crews: FloatArray | None
) -> Mixture | None:
    shape = offer.most_crews.shape
    if crews is None or crews.shape != shape or (crews > offer.most_crews + 1e-9).any():
        return None
    if (crews.sum(axis=1) > offer.most_together + 1e-9).any():
        return None
    fixed = offer.with_crews(crews)
    return Master(fixed, columns, blocks(horizon), np.ones(offer.years)).mixture()


def _trajectory(
    horizon: Horizon, offer: Supply, columns: Columns, mixture: Mixture, years: int
) -> Trajectory:
    """Return what a mixture of courses means year by year and ward by ward."""
    block, use = columns.joined()
    mixed = np.zeros((blocks(horizon), *use.measures.shape[1:]))
    np.add.at(mixed, block, mixture.share[:, None, None] * use.measures)
    total = Use(use.minutes[:0], use.cents[:0], mixed)
    crews = mixture.crews[offer.term_of_year[:years]]
    return trajectory_of(horizon, total, mixture.paid_days[:years], crews)
