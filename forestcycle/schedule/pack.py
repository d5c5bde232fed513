"""Pack the year's crew-days.

Prices from the bound say what a minute and a cent are worth. Crew-days get
compact areas, neighbouring crew-days are packed together as territories, round
after round with other neighbours, and at the end CP-SAT chooses from all
candidate crew-days that came up, within budgets and shares.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from forestcycle.errors import Fault, PlanError, WorkerError
from forestcycle.parallel import Executor, Gathered, Shared, Task, Threads, gather
from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule.bound import Bound, allocate
from forestcycle.schedule.candidates import CandidateGenerator, proposals
from forestcycle.schedule.choose import Column, Effort, choose
from forestcycle.schedule.cluster import warm_up
from forestcycle.schedule.draft import Draft, first_draft
from forestcycle.schedule.fewer_days import with_fewer_days
from forestcycle.schedule.limits import affordable
from forestcycle.schedule.one_model import MOST_ARCS, Goal, arcs_of, solve_as_one
from forestcycle.schedule.pack_territory import Packed, Span, TerritoryTask, pack_territory
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.prices import Prices
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.promises import keep_promises
from forestcycle.schedule.purse import Purse
from forestcycle.schedule.route_columns import as_columns, as_group_routes
from forestcycle.schedule.routes import Work, applies, tighten, warm_up_routes
from forestcycle.schedule.territory import group_crew_days, territories

CREW_DAYS_TOGETHER = 4
HOT_FIRST, HOT_LATER = 0.5, 0.15
MOST_COLUMNS = 40_000
SHARE_FOR_CHOICE = 0.08
SHARE_FOR_ROUTES = 0.35
SHARE_BEFORE_SETTLING = 0.3
CHOICE_WORK_OF_A_ROUND, MOST_CHOICE_WORK = 2.0, 20.0
ONE_MODEL_WORK = 3.0
PROVEN = 1e-9
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
    routed: bool = False
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
        """Elapsed seconds at which the rounds end."""
        pricing = SHARE_FOR_ROUTES * (self.seconds or 0.0) if self.routed else 0.0
        return self.routes_end - pricing

    @property
    def routes_end(self) -> float:
        """Elapsed seconds at which the choice begins."""
        return np.inf if self.seconds is None else self.seconds * (1 - SHARE_FOR_CHOICE) - 0.2


class _Packers:
    """Whoever packs the territories: the executor, or this machine's threads if it fails."""

    def __init__(
        self, problem: Problem, executor: Executor | None, threads: Threads, run: _Run
    ) -> None:
        self._problem = problem
        self._threads = threads
        self._run = run
        self._use(executor or threads)

    def _use(self, executor: Executor) -> None:
        self._executor = executor
        self._shared: Shared[Problem] = executor.share(self._problem)

    @property
    def workers(self) -> int:
        return self._executor.workers

    def pack(self, tasks: Sequence[Task[TerritoryTask]]) -> Gathered[Packed]:
        """Pack territories; what a lost cluster did not bring home is packed here."""
        try:
            return gather(self._executor, pack_territory, tasks, self._shared)
        except WorkerError as error:
            self._run.progress(Step(f"{error}; packing goes on on this machine"))
            self._use(self._threads)
            return gather(self._executor, pack_territory, tasks, self._shared)


def solve(
    problem: Problem,
    *,
    seconds: float | None = None,
    rounds: int | None = None,
    seed: int = 0,
    workers: int = 2,
    executor: Executor | None = None,
    generators: Sequence[CandidateGenerator] = (),
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
        plan, whatever the number of workers and whoever packs.
    seed : int
    workers : int
        Threads of this process.
    executor : Executor, optional
        Who packs territories: those threads by default.
    generators : sequence of CandidateGenerator, optional
        Who else proposes crew-days.
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
    if applies(problem):
        warm_up_routes()
    run = _Run(seconds, rounds, seed, max(1, workers), progress, routed=applies(problem))
    bound = allocate(problem, progress=progress)
    draft = first_draft(problem, bound)
    columns = proposals(problem, generators, seed=seed)
    with Threads(run.workers) as threads:
        packers = _Packers(problem, executor, threads, run)
        best, done = _run_rounds(problem, bound, draft, columns, run, packers)
    if run.routed and not run.stopped:
        bound = _price_routes(problem, bound, columns, run)
    chosen = _choose(problem, draft, best, columns, run)
    chosen = _as_one_model(problem, chosen, bound, run)
    routes = keep_promises(problem, _as_routes(problem, chosen), tree_ids)
    routes = with_fewer_days(problem, routes)
    return _plan(problem, bound, _as_columns(routes), run, done)


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
    packers: _Packers,
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
    try:
        while not run.stopped and (not done or run.share_done(done) < 1.0):
            if done and run.share_done(done) > SHARE_BEFORE_SETTLING:
                purse.settle(draft)
            _run_round(packers, problem, bound, draft, columns, run, random, purse, done)
            done += 1
            purse.look(draft)
            run.progress(Step("packing", done, run.rounds or 0, purse.worth, bound.value))
    except KeyboardInterrupt:
        run.stopped = True
    return _as_columns(purse.best), done


def _run_round(
    packers: _Packers,
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
    run: _Run,
) -> None:
    """Lay the routes of finished territories, in the order of the tasks."""
    run.stopped = run.stopped or packed.interrupted
    routes: dict[int, IntArray] = {}
    for territory in packed.values.values():
        routes |= territory.routes
        for column in territory.columns:
            columns[column] = float(worth[list(column.trees)].sum())
    draft.lay(routes)


def _span(run: _Run, workers: int, areas: int) -> Span | None:
    """Time for each territory in a round: about twelve rounds fill the time."""
    if run.seconds is None:
        return None
    seconds = float(np.clip(run.search_ends * workers / areas / 12, 0.05, 2.0))
    return Span(seconds, time.time() + run.search_ends - run.elapsed)


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
    work = min(MOST_CHOICE_WORK, CHOICE_WORK_OF_A_ROUND * (run.rounds or DEFAULT_ROUNDS))
    effort = Effort(seconds, work, run.workers, run.seed)
    try:
        chosen = choose(problem, offered, best, effort)
    except KeyboardInterrupt:
        run.stopped = True
        return best
    if chosen is None:
        return best
    return max(best, chosen, key=lambda plan: _standing(problem, plan))


def _price_routes(problem: Problem, bound: Bound, columns: dict[Column, float], run: _Run) -> Bound:
    """Tighten the bound by sets of routes, and take in the routes found."""
    if run.seconds is None:
        work = Work.of_rounds(run.rounds or 0, problem, bound, run.workers)
    else:
        work = Work(run.routes_end - run.elapsed, workers=run.workers)
    known = as_group_routes(bound.groups, columns)
    try:
        found = tighten(problem, bound, known, work, progress=run.progress)
    except KeyboardInterrupt:
        run.stopped = True
        return bound
    for column in as_columns(problem, bound.groups, found.routes):
        columns.setdefault(column, float(problem.worth[list(column.trees)].sum()))
    return found.bound


def _as_columns(routes: Sequence[IntArray]) -> list[Column]:
    return [Column(day, tuple(trees.tolist())) for day, trees in enumerate(routes) if len(trees)]


def _standing(problem: Problem, plan: Sequence[Column]) -> tuple[int, float]:
    """Rank of a plan: mandatory trees visited, then worth."""
    trees = [tree for column in plan for tree in column.trees]
    return int(problem.mandatory[trees].sum()), float(problem.worth[trees].sum())


def _as_one_model(problem: Problem, chosen: list[Column], bound: Bound, run: _Run) -> list[Column]:
    """Improve a plan of few trees as one model, unless it is known to be the best."""
    best = _standing(problem, chosen)
    reached = best[0] == problem.mandatory.sum() and best[1] >= bound.value * (1 - PROVEN)
    if reached or run.stopped or arcs_of(problem) > MOST_ARCS:
        return chosen
    seconds = None if run.seconds is None else max(0.2, run.seconds - run.elapsed)
    found = solve_as_one(
        problem,
        Goal.WORTH,
        work=ONE_MODEL_WORK,
        seconds=seconds,
        seed=run.seed,
        hint=_as_routes(problem, chosen),
    )
    if found.routes is None:
        return chosen
    return max(chosen, _as_columns(found.routes), key=lambda plan: _standing(problem, plan))


def _as_routes(problem: Problem, chosen: Sequence[Column]) -> list[IntArray]:
    routes = [np.empty(0, dtype=np.int64)] * problem.crew_days
    for column in chosen:
        routes[column.crew_day] = np.array(column.trees, dtype=np.int64)
    return routes


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
