"""Pack territories round after round, each time with other neighbours and nearby prices."""

import time
from dataclasses import replace

import numpy as np

from forestcycle.parallel import Gathered, Task
from forestcycle.progress import Step
from forestcycle.schedule.bound import Bound
from forestcycle.schedule.choose import Column, columns_of
from forestcycle.schedule.draft import Draft
from forestcycle.schedule.limits import affordable
from forestcycle.schedule.pack_territory import Packed, Span, TerritoryTask
from forestcycle.schedule.packers import Packers
from forestcycle.schedule.prices import Prices
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.purse import Purse
from forestcycle.schedule.run import Run
from forestcycle.schedule.territory import group_crew_days, territories

CREW_DAYS_TOGETHER = 4
HOT_FIRST, HOT_LATER = 0.5, 0.15
SHARE_BEFORE_SETTLING = 0.3
PRICE_SPREAD = 1.0
LEAST_FOR_FIRST_ROUTES = 3.0


def run_rounds(
    problem: Problem,
    bound: Bound,
    draft: Draft,
    columns: dict[Column, float],
    run: Run,
    packers: Packers,
) -> tuple[list[Column], int]:
    """Pack territories round after round.

    Parameters
    ----------
    problem : Problem
    bound : Bound
    draft : Draft
        Changed in place.
    columns : dict of Column to float
        Crew-days found and their worth; added to.
    run : Run
        Its clock or number of rounds, seed and progress.
    packers : Packers

    Returns
    -------
    best : list of Column
        The worthiest plan within the limits that any round ended with.
    done : int
        Rounds finished.
    """
    random = np.random.default_rng(run.seed)
    purse = Purse(problem)
    done = 0
    try:
        while not run.stopped and (not done or run.share_done(done) < 1.0):
            if done and run.share_done(done) > SHARE_BEFORE_SETTLING:
                purse.settle(draft)
                if not purse.open_days.any():  # there is money for none
                    break
            _run_round(packers, problem, bound, draft, columns, run, random, purse, done)
            done += 1
            purse.look(draft)
            run.progress(Step("packing", done, run.rounds or 0, purse.worth, bound.value))
    except KeyboardInterrupt:
        run.stopped = True
    return columns_of(purse.best), done


def _run_round(
    packers: Packers,
    problem: Problem,
    bound: Bound,
    draft: Draft,
    columns: dict[Column, float],
    run: Run,
    random: np.random.Generator,
    purse: Purse,
    done: int,
) -> None:
    """Pack every open crew-day once, beside other neighbours than last time."""
    prices = _prices_around(problem, bound.prices, random) if done else bound.prices
    worth = _net_worth(problem, prices, purse.thrift)
    cent = purse.thrift * prices.cent
    day_price = cent * problem.day_cost_cents.astype(np.float64)
    open_days = np.flatnonzero(purse.open_days)
    groups = [
        open_days[group]
        for group in group_crew_days(draft.centres[open_days], CREW_DAYS_TOGETHER, random)
    ]
    areas = territories(problem, groups, draft.day_of_tree, draft.centres, worth)
    seeds = random.integers(0, 2**31, len(areas))
    hot = HOT_LATER if done else HOT_FIRST
    span = _span(run, packers.workers, len(areas))
    tasks = [
        Task(
            f"territory {number + 1} of round {done + 1}",
            TerritoryTask(
                area,
                worth[area.trees],
                day_price[area.crew_days],
                tuple(draft.routes[crew_day] for crew_day in area.crew_days),
                int(seed),
                hot,
                span,
                first=not done and number == 0,
            ),
        )
        for number, (area, seed) in enumerate(zip(areas, seeds, strict=True))
    ]
    _take_in(packers.pack(tasks), draft, columns, worth, run)


def _take_in(
    packed: Gathered[Packed],
    draft: Draft,
    columns: dict[Column, float],
    worth: FloatArray,
    run: Run,
) -> None:
    """Lay the routes of finished territories, in the order of the tasks."""
    run.stopped = run.stopped or packed.interrupted
    routes: dict[int, IntArray] = {}
    for territory in packed.values.values():
        routes |= territory.routes
        for column in territory.columns:
            columns[column] = float(worth[list(column.trees)].sum())
    draft.lay(routes)


def _span(run: Run, workers: int, areas: int) -> Span | None:
    """Time for each territory in a round: about twelve rounds fill the time."""
    if run.seconds is None:
        return None
    seconds = float(np.clip(run.search_ends * workers / areas / 12, 0.05, 2.0))
    began = time.time() - run.elapsed
    # A slow machine may spend a short limit on the bound; a small city is packed even so.
    owed_until = max(run.choice_ends, run.elapsed + LEAST_FOR_FIRST_ROUTES)
    return Span(seconds, began + run.search_ends, began + owed_until)


def _prices_around(problem: Problem, prices: Prices, random: np.random.Generator) -> Prices:
    """Prices somewhat off the given ones, the more so the fewer crew-days there are.

    The bound's prices are right for many trees. With few, the best plan may
    lie far off what they pay for, and is found by looking around.
    """
    spread = PRICE_SPREAD / problem.crew_days
    minute_worth = problem.worth.sum() / problem.service_minutes.sum()

    def near(price: FloatArray) -> FloatArray:
        return price * np.exp(spread * random.standard_normal(len(price)))

    owed = spread * minute_worth * random.exponential(size=len(prices.ward_minute))
    return replace(
        prices,
        cent=float(near(np.array([prices.cent]))[0]),
        fund_cent=near(prices.fund_cent),
        ward_minute=near(prices.ward_minute) + owed,
    )


def _net_worth(problem: Problem, prices: Prices, thrift: float) -> FloatArray:
    """Worth less the price of money, with what wards are owed; mandatory trees first."""
    per_cent = thrift * prices.cent + np.append(prices.fund_cent, 0.0)[problem.fund]
    per_minute = np.append(prices.ward_minute, 0.0)[problem.ward]
    per_minute -= float(prices.ward_minute @ problem.ward_least_share)
    net = problem.worth - per_cent * problem.cost_cents + per_minute * problem.service_minutes
    net[~affordable(problem)] = 0.0
    ahead = problem.worth.max(initial=0.0) * 100.0
    return np.where(problem.mandatory, np.maximum(net, 0.0) + ahead, net)
