"""Pack the year's crew-days.

Prices from the bound say what a minute and a cent are worth. Crew-days get
compact areas, neighbouring crew-days are packed together as territories, round
after round with other neighbours, and at the end CP-SAT chooses from all
candidate crew-days that came up, within budgets and shares.
"""

import time
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace

import numpy as np

from forestcycle.errors import Fault, PlanError
from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule.bound import Bound, allocate
from forestcycle.schedule.choose import Column, Effort, choose
from forestcycle.schedule.cluster import ClusterSearch, Route, warm_up
from forestcycle.schedule.draft import Draft, first_draft
from forestcycle.schedule.limits import affordable
from forestcycle.schedule.mandatory import make_room, missing_mandatory, shortest_visit
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.prices import Prices
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.purse import Purse
from forestcycle.schedule.territory import Territory, ground_of, group_crew_days, territories

CREW_DAYS_TOGETHER = 4
STEPS_PER_DAY = 3_000
STEPS_AT_ONCE = 250
HOT_FIRST, HOT_LATER, COLD = 0.5, 0.15, 0.01
COLUMNS_PER_DAY = 12
MOST_COLUMNS = 40_000
SHARE_FOR_CHOICE = 0.08
SHARE_BEFORE_SETTLING = 0.3
CHOICE_WORK = 20.0
DEFAULT_ROUNDS = 10
PRICE_SPREAD = 1.0


@dataclass
class _Run:
    """Clock, random numbers and stop sign of one call."""

    seconds: float | None
    rounds: int | None
    seed: int
    workers: int
    progress: Progress
    began: float = field(default_factory=time.monotonic)
    stopped: bool = False

    @property
    def elapsed(self) -> float:
        return time.monotonic() - self.began

    def share_done(self, rounds: int) -> float:
        """Share of the rounds, or else of the time for them, that has passed."""
        if self.rounds is not None:
            return rounds / self.rounds
        return self.elapsed / max(self.search_ends, 1e-9)

    @property
    def search_ends(self) -> float:
        """Elapsed seconds at which the rounds end and the choice begins."""
        return np.inf if self.seconds is None else self.seconds * (1 - SHARE_FOR_CHOICE) - 0.2


@dataclass(frozen=True)
class _Packed:
    """What came of one territory."""

    routes: dict[int, IntArray]
    columns: list[Column]


def solve(
    problem: Problem,
    *,
    seconds: float | None = None,
    rounds: int | None = None,
    seed: int = 0,
    workers: int = 2,
    tree_ids: Sequence[str] | None = None,
    progress: Progress = silent,
) -> Plan:
    """Find a plan of much worth.

    Parameters
    ----------
    problem : Problem
    seconds : float, optional
        Wall clock; the plan depends on the machine's speed then.
    rounds : int, optional
        Work limit instead: the same problem, rounds and seed give the same
        plan, whatever the number of workers.
    seed : int
    workers : int
        Threads that pack territories.
    tree_ids : sequence of str, optional
        Names of the inventory's trees, for messages; their rows by default.
    progress : Progress

    Returns
    -------
    Plan
        Feasible; if the user interrupts, the best until then.

    Raises
    ------
    PlanError
        If there is no crew-day or no tree, or no plan with all mandatory trees
        was found within the limits.
    """
    if not problem.crew_days or not problem.trees:
        what = "tree" if problem.crew_days else "crew-day"
        raise PlanError(Fault(f"there is no {what} to plan", "problem", "give at least one"))
    if seconds is None and rounds is None:
        rounds = DEFAULT_ROUNDS
    progress(Step("preparing the search (takes a minute on its first run)"))
    warm_up()
    run = _Run(seconds, rounds, seed, max(1, workers), progress)
    bound = allocate(problem, progress=progress)
    draft = first_draft(problem, bound)
    columns: dict[Column, float] = {}
    best, done = _run_rounds(problem, bound, draft, columns, run)
    chosen = _choose(problem, draft, best, columns, run)
    chosen = _keep_promises(problem, chosen, tree_ids)
    return _plan(problem, bound, chosen, run, done)


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


def _run_rounds(
    problem: Problem,
    bound: Bound,
    draft: Draft,
    columns: dict[Column, float],
    run: _Run,
) -> tuple[list[Column], int]:
    """Pack territories round after round.

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
    with ThreadPoolExecutor(run.workers) as pool:
        try:
            while not run.stopped and (not done or run.share_done(done) < 1.0):
                if done and run.share_done(done) > SHARE_BEFORE_SETTLING:
                    purse.settle(draft)
                _run_round(pool, problem, bound, draft, columns, run, random, purse, done)
                done += 1
                purse.look(draft)
                run.progress(Step("packing", done, run.rounds or 0, purse.worth, bound.value))
        except KeyboardInterrupt:
            run.stopped = True
    return _as_columns(purse.best), done


def _run_round(
    pool: ThreadPoolExecutor,
    problem: Problem,
    bound: Bound,
    draft: Draft,
    columns: dict[Column, float],
    run: _Run,
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
    jobs = [
        pool.submit(
            _pack_territory,
            problem,
            area,
            draft.routes,
            worth,
            day_price,
            int(seed),
            hot,
            run,
            len(areas),
        )
        for area, seed in zip(areas, seeds, strict=True)
    ]
    _take_in(jobs, draft, columns, worth, run)


def _take_in(
    jobs: list[Future[_Packed]],
    draft: Draft,
    columns: dict[Column, float],
    worth: FloatArray,
    run: _Run,
) -> None:
    """Lay the routes of finished territories, in the order of the jobs."""
    try:
        wait(jobs)
    except KeyboardInterrupt:
        run.stopped = True
        wait(jobs)
    routes: dict[int, IntArray] = {}
    for job in jobs:
        packed = job.result()
        routes |= packed.routes
        for column in packed.columns:
            columns[column] = float(worth[list(column.trees)].sum())
    draft.lay(routes)


def _pack_territory(
    problem: Problem,
    area: Territory,
    routes: Sequence[IntArray],
    worth: FloatArray,
    day_price: FloatArray,
    seed: int,
    hot: float,
    run: _Run,
    areas: int,
) -> _Packed:
    """Improve the routes of one territory."""
    has_plan = any(len(routes[crew_day]) for crew_day in area.crew_days)
    if run.stopped or not len(area.trees) or (has_plan and run.elapsed >= run.search_ends):
        return _Packed({}, [])
    ground = ground_of(problem, area, worth, day_price)
    position = {int(tree): place for place, tree in enumerate(area.trees)}
    start = [
        Route(r, tuple(position[int(tree)] for tree in routes[crew_day]))
        for r, crew_day in enumerate(area.crew_days)
    ]
    found = ClusterSearch(ground, seed=seed, start=start)
    _search(found, len(area.crew_days), hot, run, areas)
    columns = _best_columns(found, area, ground.worth)
    return _Packed(
        {
            int(area.crew_days[route.crew_day]): area.trees[list(route.stops)]
            for route in found.routes
        },
        columns,
    )


def _search(found: ClusterSearch, days: int, hot: float, run: _Run, areas: int) -> None:
    if run.rounds is not None and run.seconds is None:
        steps = STEPS_PER_DAY * days
        for number in range(0, steps, STEPS_AT_ONCE):
            if run.stopped:
                return
            heat = hot * (COLD / hot) ** (number / steps)
            found.run(STEPS_AT_ONCE, hot=heat, cold=heat)
        return
    began = run.elapsed
    span = _seconds_for(run, areas)
    share = 0.0
    # Even when the time is over, each territory gets one go: a plan is owed.
    while True:
        heat = hot * (COLD / hot) ** min(1.0, share)
        found.run(STEPS_AT_ONCE, hot=heat, cold=heat)
        share = (run.elapsed - began) / span
        if run.stopped or share >= 1.0 or run.elapsed >= run.search_ends:
            return


def _seconds_for(run: _Run, areas: int) -> float:
    """Seconds for one territory in this round: about twelve rounds fill the time."""
    whole = run.search_ends * run.workers / areas
    return float(np.clip(whole / 12, 0.05, 2.0))


def _best_columns(found: ClusterSearch, area: Territory, worth: FloatArray) -> list[Column]:
    """Best distinct routes of each crew-day, those of the best plan first."""
    kept: list[Column] = []
    by_day: dict[int, list[Route]] = {}
    for route in (*found.routes, *found.pool):
        if route.stops:
            by_day.setdefault(route.crew_day, []).append(route)
    for r, routes in by_day.items():
        ranked = sorted(routes, key=lambda route: -float(worth[list(route.stops)].sum()))
        for route in ranked[:COLUMNS_PER_DAY]:
            trees = tuple(area.trees[list(route.stops)].tolist())
            kept.append(Column(int(area.crew_days[r]), trees))
    return kept


def _choose(
    problem: Problem,
    draft: Draft,
    best: list[Column],
    columns: dict[Column, float],
    run: _Run,
) -> list[Column]:
    """Let CP-SAT choose; keep the best plan of the rounds where that is better."""
    worthiest = sorted(columns, key=lambda column: -columns[column])[:MOST_COLUMNS]
    offered = list(dict.fromkeys((*best, *_as_columns(draft.routes), *worthiest)))
    seconds = None
    if run.seconds is not None:
        seconds = max(0.5, run.seconds - run.elapsed - 0.3)
    if run.stopped:
        seconds = min(seconds or 5.0, 5.0)
    effort = Effort(seconds, CHOICE_WORK, run.workers, run.seed)
    try:
        chosen = choose(problem, offered, best, effort)
    except KeyboardInterrupt:
        run.stopped = True
        return best
    if chosen is None:
        return best
    return max(best, chosen, key=lambda plan: _standing(problem, plan))


def _as_columns(routes: Sequence[IntArray]) -> list[Column]:
    return [Column(day, tuple(trees.tolist())) for day, trees in enumerate(routes) if len(trees)]


def _standing(problem: Problem, plan: Sequence[Column]) -> tuple[int, float]:
    """Rank of a plan: mandatory trees visited, then worth."""
    trees = [tree for column in plan for tree in column.trees]
    return int(problem.mandatory[trees].sum()), float(problem.worth[trees].sum())


def _keep_promises(
    problem: Problem, chosen: list[Column], tree_ids: Sequence[str] | None
) -> list[Column]:
    """Make room for mandatory trees left out; refuse if some are left out even so."""
    routes = [np.empty(0, dtype=np.int64)] * problem.crew_days
    for column in chosen:
        routes[column.crew_day] = np.array(column.trees, dtype=np.int64)
    if not len(missing_mandatory(problem, routes)):
        return chosen
    routes = make_room(problem, routes)
    missing = missing_mandatory(problem, routes)
    if len(missing):
        raise PlanError([_no_room(problem, int(tree), tree_ids) for tree in missing])
    return _as_columns(routes)


def _no_room(problem: Problem, tree: int, tree_ids: Sequence[str] | None) -> Fault:
    row = int(problem.tree[tree])
    name = f"in row {row}" if tree_ids is None else tree_ids[row]
    return Fault(
        f"found no room for mandatory tree {name} beside the others: a visit takes "
        f"{shortest_visit(problem, tree):.0f} minutes with the way there and back, "
        f"and costs {problem.cost_cents[tree] / 100:.2f} besides the crew-day",
        "requests",
        "add crew-days or budget, or take back a request",
    )


def _plan(problem: Problem, bound: Bound, chosen: Sequence[Column], run: _Run, done: int) -> Plan:
    ordered = sorted(chosen, key=lambda column: column.crew_day)
    lengths = [len(column.trees) for column in ordered]
    tree = np.array([tree for column in ordered for tree in column.trees], dtype=np.int64)
    return Plan(
        crew_day=np.repeat([column.crew_day for column in ordered], lengths).astype(np.int64),
        order=np.array([place for n in lengths for place in range(n)], dtype=np.int64),
        tree=tree,
        worth=float(problem.worth[tree].sum()),
        bound=bound,
        interrupted=run.stopped,
        rounds=done,
        seconds=run.elapsed,
        seed=run.seed,
    )
