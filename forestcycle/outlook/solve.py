"""The best visits of all years for a budget, with a bound that its prices prove.

Trees compete only for crew minutes and money. With a price on both, every
tree's best course is found by itself (:mod:`forestcycle.outlook.respond`); a
linear program over the courses found so far corrects the prices
(:mod:`forestcycle.outlook.master`). This is column generation. For any prices
that are not negative, the cost of all best courses less what crews and money
earn at those prices is a lower limit on the loss of any plan, by weak duality,
for whole crews too. Where whole crews cost more than parts of them,
:mod:`forestcycle.outlook.whole_crews` raises that limit.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from forestcycle.outlook.budget import AS_PLANNED, Budget, CrewTerms
from forestcycle.outlook.horizon import Horizon
from forestcycle.outlook.master import Columns, Master, Mixture, Relaxed, needed_crews
from forestcycle.outlook.policies import trajectory_of
from forestcycle.outlook.respond import Prices, Response, Use, blocks, respond, use_cost
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.supply import SKILL_COUNT, Supply, supply
from forestcycle.outlook.trajectory import MEASURE, Trajectory
from forestcycle.outlook.whole_crews import CrewCuts
from forestcycle.progress import Progress, Step, silent

GOOD_GAP = 1e-3
MOST_ROUNDS = 200
MOST_COURSES = 45
"""Courses kept per block; more make the program slow and hardly better."""
KEEP_OLD_PRICES = 0.6
POLISHING_ROUNDS = 30
MOST_CREW_CHOICES = 12
"""Choices of whole crews that are worked out, one after another."""
WHOLE_GAP, WHOLE_SECONDS = 2e-3, 20.0
NOBODY_PAYS = 1e12
SHORTEST_VISIT = 1.0
LEAST_HELP, NEGLIGIBLE_LOSS = 1e-7, 1e-6
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
        No plan with whole crews loses less.
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
    use : Use
        What each block of trees does, a start for other budgets of the same horizon.
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
    use: Use
    crews: FloatArray
    rounds: int

    @property
    def gap(self) -> float:
        """How far the loss may be from the least possible, as a share of the loss."""
        return (self.loss - self.bound) / self.loss if self.loss > NEGLIGIBLE_LOSS else 0.0


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
    columns, cuts = Columns(), CrewCuts(offer)
    search = _Search(horizon, offer, columns, cuts)
    search.begin(known)
    relaxed = search.run(progress)
    found, bound = _with_whole_crews(horizon, offer, columns, cuts, relaxed, known, progress)
    mixture, use = found
    return HorizonPlan(
        budget=budget,
        trajectory=_trajectory(horizon, offer, mixture, use, years),
        loss=mixture.loss,
        bound=max(search.bound, bound),
        relaxed_loss=relaxed.loss,
        minute_price=search.prices.minute[:years],
        day_price=_day_price(offer, search.prices)[:years],
        cent_price=search.prices.cent[:years],
        prices=search.prices,
        use=use,
        crews=mixture.crews,
        rounds=search.rounds,
    )


def lower_bound(offer: Supply, prices: Prices, response: Response) -> float:
    """Return a limit below which no plan's loss lies, from prices and the answer to them.

    Parameters
    ----------
    offer : Supply
    prices : Prices
    response : Response

    Returns
    -------
    float
    """
    return float(response.cost.sum()) - offer.revenue(prices.minute, prices.cent)


def dearest_minute(horizon: Horizon, years: int) -> float:
    """Return a price of a crew minute at which no visit is worth its minutes.

    Parameters
    ----------
    horizon : Horizon
    years : int
        In which a visit may save worth.

    Returns
    -------
    float
        What the worthiest tree leaves undone in all years, over the shortest visit.
    """
    both = (horizon.first_year, horizon.later)
    worth = max(float(each.waiting[MEASURE["worth_undone"]].max()) for each in both)
    minutes = np.concatenate([each.minutes.ravel() for each in both])
    shortest = float(minutes[minutes > 0].min(initial=SHORTEST_VISIT))
    return years * worth / shortest


def _day_price(offer: Supply, prices: Prices) -> FloatArray:
    minute = np.where(offer.unserved, 0.0, prices.minute)
    best = np.where(offer.has_skill, minute[:, :, None], 0.0).max(axis=1)
    return np.asarray(best * offer.minutes_per_day, dtype=np.float64)


class _Search:
    """Column generation for one supply of crews and money."""

    def __init__(self, horizon: Horizon, offer: Supply, columns: Columns, cuts: CrewCuts) -> None:
        self._horizon, self._offer = horizon, offer
        self._columns, self._cuts = columns, cuts
        self._dear = np.where(offer.unserved, dearest_minute(horizon, offer.years), 0.0)
        self.master = Master(offer, columns, blocks(horizon), np.ones(offer.years))
        self.bound, self.rounds = -np.inf, 0
        self.prices = self._flat_prices(0.0)

    def _flat_prices(self, minute: float) -> Prices:
        return Prices(
            minute=np.full((self._offer.years, SKILL_COUNT), minute),
            cent=np.zeros(self._offer.years),
            measure=self.master.measure_prices(),
        )

    def begin(self, known: HorizonPlan | None) -> None:
        """Start from what is known, from doing nothing, and from the answers to even prices."""
        every = np.ones(blocks(self._horizon), dtype=np.bool_)
        if known is not None:
            self._columns.add(known.use, every)
        self._columns.add(self._ask(self._flat_prices(NOBODY_PAYS)), every)
        self._columns.keep_all()
        if known is not None and known.prices.minute.shape == self.prices.minute.shape:
            self._columns.add(self._ask(known.prices), every)
        cells = self._horizon.stock.cells
        worth = (cells.worth * cells.trees * cells.open).sum()
        minutes = (cells.minutes * cells.trees * cells.open).sum()
        for factor in FIRST_PRICES:
            prices = self._flat_prices(factor * worth / max(minutes, 1.0))
            self._columns.add(self._ask(prices), every)

    def _ask(self, prices: Prices) -> Use:
        """Let trees answer prices, and keep the bound if it is better.

        Minutes that no crew has are priced so that no tree asks for them: with none to be had,
        the program's own price of them may be anything, and courses that use them are useless.
        """
        prices = prices._replace(minute=np.maximum(prices.minute, self._dear))
        response = respond(self._horizon, prices)
        self._cuts.add(prices, response)
        limit = lower_bound(self._offer, prices, response)
        if limit > self.bound:
            self.bound, self.prices = limit, prices
        return response.use

    def run(self, progress: Progress, *, rounds: int = MOST_ROUNDS) -> Mixture:
        """Improve prices until loss and bound meet."""
        while True:
            self.rounds += 1
            found = self.master.relaxed()
            loss = found.mixture.loss
            progress(Step("looking ahead", self.rounds, worth=loss, bound=self.bound))
            good = max(GOOD_GAP * loss, NEGLIGIBLE_LOSS)
            if loss - self.bound <= good or self.rounds >= rounds:
                return found.mixture
            self._thin(found)
            if not any(self._improve(found, prices) for prices in self._tries(found)):
                return self.master.relaxed().mixture  # of the courses that were not thinned out

    def _thin(self, found: Relaxed) -> None:
        """Drop courses that cost far more than what their block does now."""
        cost = use_cost(self._columns.joined(), found.prices)
        needless = cost - found.block_cost[self._columns.block]
        needless[found.mixture.share > 0] = 0.0
        self._columns.thin(needless, MOST_COURSES * blocks(self._horizon))

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
    cuts: CrewCuts,
    relaxed: Mixture,
    known: HorizonPlan | None,
    progress: Progress,
) -> tuple[tuple[Mixture, Use], float]:
    """Return the best mixture found with whole crews, what each block does in it, and a bound.

    Crews rounded up will do where only days worked are paid. Else a
    mixed-integer program over the courses found so far chooses crews to begin with; then
    those that could lose least by the prices met so far are tried, one after another, with
    courses generated for them, until loss and bound meet.
    """
    count = blocks(horizon)
    tried: list[tuple[Mixture, Use]] = []
    for crews in (needed_crews(offer, relaxed), None if known is None else known.crews):
        found = _mixture_with(horizon, offer, columns, crews)
        tried += [] if found is None else [(found, columns.mixed(found.share, count))]
    bound = -np.inf
    if min((found.loss for found, _ in tried), default=np.inf) <= relaxed.loss * (1 + GOOD_GAP):
        return min(tried, key=lambda pair: pair[0].loss), bound
    progress(Step("choosing whole crews"))
    chosen = Master(offer, columns, count, np.ones(offer.years)).whole(
        gap=WHOLE_GAP, seconds=WHOLE_SECONDS
    )
    if chosen is not None:
        tried.append((chosen, columns.mixed(chosen.share, count)))
    next_crews = None if chosen is None else chosen.crews
    worked_out: set[bytes] = set()
    for _ in range(MOST_CREW_CHOICES):
        if next_crews is not None:
            worked_out.add(next_crews.tobytes())
            search = _Search(horizon, offer.with_crews(next_crews), columns, cuts)
            polished = search.run(progress, rounds=POLISHING_ROUNDS)
            tried.append((polished, columns.mixed(polished.share, count)))
        choice = cuts.least(loss=relaxed.loss)
        if choice is None:
            break
        bound = max(bound, choice.bound)
        least = min(found.loss for found, _ in tried) if tried else np.inf
        if least - bound <= GOOD_GAP * least or choice.crews.tobytes() in worked_out:
            break
        next_crews = choice.crews
    return min(tried, key=lambda pair: pair[0].loss), bound


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
    horizon: Horizon, offer: Supply, mixture: Mixture, use: Use, years: int
) -> Trajectory:
    """Return what a mixture of courses means year by year and ward by ward."""
    crews = mixture.crews[offer.term_of_year[:years]]
    return trajectory_of(horizon, use, mixture.paid_days[:years], crews)
