"""Pack the year's crew-days.

Prices from the bound say what a minute and a cent are worth. Crew-days get
compact areas, neighbouring crew-days are packed together as territories, round
after round with other neighbours, and at the end CP-SAT chooses from all
candidate crew-days that came up, within budgets and shares.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from forestcycle.errors import Fault, PlanError
from forestcycle.parallel import Executor, Threads
from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule.bound import Bound, allocate
from forestcycle.schedule.candidates import CandidateGenerator, proposals
from forestcycle.schedule.choose import Column, Effort, choose, columns_of
from forestcycle.schedule.cluster import warm_up
from forestcycle.schedule.draft import Draft, first_draft
from forestcycle.schedule.fewer_days import with_fewer_days
from forestcycle.schedule.gaps import with_gaps_filled
from forestcycle.schedule.one_model import MOST_ARCS, Goal, arcs_of, solve_as_one
from forestcycle.schedule.packers import Packers
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import IntArray, Problem
from forestcycle.schedule.promises import keep_promises
from forestcycle.schedule.rounds import run_rounds
from forestcycle.schedule.route_columns import as_columns, as_group_routes
from forestcycle.schedule.routes import Work, applies, tighten, warm_up_routes
from forestcycle.schedule.run import Run
from forestcycle.travel.remembered import RememberedDrives

MOST_COLUMNS = 40_000
CHOICE_WORK_OF_A_ROUND, MOST_CHOICE_WORK = 2.0, 20.0
ONE_MODEL_WORK = 3.0
PROVEN = 1e-9
DEFAULT_ROUNDS = 10


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
    run = Run(seconds, rounds, seed, max(1, workers), progress, routed=applies(problem))
    bound = allocate(problem, seconds=run.bound_ends, progress=progress)
    draft = first_draft(problem, bound)
    columns = proposals(problem, generators, seed=seed)
    with Threads(run.workers) as threads:
        packers = Packers(problem, executor, threads, progress)
        best, done = run_rounds(problem, bound, draft, columns, run, packers)
    if run.routed and not run.stopped:
        bound = _price_routes(problem, bound, columns, run)
    chosen = _choose(problem, draft, best, columns, run)
    chosen = _as_one_model(problem, chosen, bound, run)
    asked = _remembering(problem, whole_days=True)
    routes = keep_promises(asked, _as_routes(problem, chosen), tree_ids)
    half = None if run.left is None else run.left / 2
    routes = with_fewer_days(asked, routes, seconds=half)
    plan = _plan(problem, bound, columns_of(routes), run, done, unpacked=draft.unpacked())
    if run.stopped or plan.unpacked:
        return plan
    return with_gaps_filled(_remembering(problem, whole_days=False), plan, seconds=run.left)


def _remembering(problem: Problem, *, whole_days: bool) -> Problem:
    """Let the problem remember ways, for looking at the same routes many times."""
    return replace(problem, travel=RememberedDrives(problem.travel, whole_days=whole_days))


def _choose(
    problem: Problem,
    draft: Draft,
    best: list[Column],
    columns: dict[Column, float],
    run: Run,
) -> list[Column]:
    """Let CP-SAT choose; keep the best plan of the rounds where that is better."""
    worthiest = sorted(columns, key=lambda column: -columns[column])[:MOST_COLUMNS]
    offered = list(dict.fromkeys((*best, *columns_of(draft.routes), *worthiest)))
    seconds = None
    if run.seconds is not None:
        seconds = max(0.5, run.choice_ends - run.elapsed)
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


def _price_routes(problem: Problem, bound: Bound, columns: dict[Column, float], run: Run) -> Bound:
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


def _standing(problem: Problem, plan: Sequence[Column]) -> tuple[int, float]:
    """Rank of a plan: mandatory trees visited, then worth."""
    trees = [tree for column in plan for tree in column.trees]
    return int(problem.mandatory[trees].sum()), float(problem.worth[trees].sum())


def _as_one_model(problem: Problem, chosen: list[Column], bound: Bound, run: Run) -> list[Column]:
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
    return max(chosen, columns_of(found.routes), key=lambda plan: _standing(problem, plan))


def _as_routes(problem: Problem, chosen: Sequence[Column]) -> list[IntArray]:
    routes = [np.empty(0, dtype=np.int64)] * problem.crew_days
    for column in chosen:
        routes[column.crew_day] = np.array(column.trees, dtype=np.int64)
    return routes


def _plan(
    problem: Problem,
    bound: Bound,
    chosen: Sequence[Column],
    run: Run,
    done: int,
    *,
    unpacked: int,
) -> Plan:
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
        unpacked=unpacked,
    )
