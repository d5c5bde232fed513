"""Few trees and crew-days as one CP-SAT model.

Every crew-day is a circuit over the trees it may visit, with the minute at
which each service begins. For a dozen trees the answer is proven; with more,
the best that the work limit allows. Minutes are rounded to ten-thousandths,
always to the strict side, so that what fits here fits in exact arithmetic.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum
from itertools import pairwise

import numpy as np
from ortools.sat.python import cp_model

from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.territory import may_visit, service_spans

STEPS_PER_MINUTE = 10_000
WORTH_STEPS = 100_000_000
SHARE_STEPS = 1_000_000
MOST_ARCS = 5_000
MOST_PAIRS_COUNTED = 1_000_000
EPSILON = 1e-9


class Goal(Enum):
    """What the best plan is."""

    WORTH = "most worth; of equal worth, with the fewest crew-days"
    CENTS = "least cost, whatever the budget"
    CREW_DAYS = "fewest of the crew-days that are marked as extra, whatever the budget"


@dataclass(frozen=True)
class Answer:
    """What the model came to.

    Attributes
    ----------
    routes : list of (s,) int64, or None
        Trees of each crew-day in order; None if no plan was found.
    value : float
        Worth, cents or extra crew-days of the plan; nan without one.
    proven : float
        No plan is worth more, or costs or needs less: infinite on the side of
        the goal where nothing was proven.
    none_exists : bool
        It is proven that no plan keeps all limits.
    """

    routes: list[IntArray] | None
    value: float
    proven: float
    none_exists: bool


@dataclass
class _Model:
    """The model while it is being put together."""

    problem: Problem
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    visits: list[list[cp_model.IntVar]] = field(default_factory=list)
    used: list[cp_model.IntVar] = field(default_factory=list)
    made: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    arcs: dict[tuple[int, int, int], cp_model.IntVar] = field(default_factory=dict)


def arcs_of(problem: Problem) -> int:
    """Count the arcs that the model of a problem has at most.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    int
        From each crew-day's depot and each tree that it may visit to every other. Of a
        large problem, as if each crew-day might visit every tree.
    """
    each = np.full(problem.crew_days, problem.trees)
    if problem.crew_days * problem.trees <= MOST_PAIRS_COUNTED:
        days, trees = np.arange(problem.crew_days), np.arange(problem.trees)
        each = may_visit(problem, days, trees).sum(axis=1)
    return int((each * (each + 1)).sum())


def solve_as_one(
    problem: Problem,
    goal: Goal,
    *,
    work: float,
    seconds: float | None = None,
    seed: int = 0,
    extra: Sequence[int] = (),
    hint: Sequence[IntArray] | None = None,
) -> Answer:
    """Find the best plan that visits every mandatory tree.

    Parameters
    ----------
    problem : Problem
        Small: :func:`arcs_of` grows with the square of the trees.
    goal : Goal
    work : float
        CP-SAT's deterministic time; the same input gives the same answer.
    seconds : float, optional
        Wall clock on top.
    seed : int
    extra : sequence of int
        Crew-days that :attr:`Goal.CREW_DAYS` counts.
    hint : sequence of (s,) int64, optional
        A plan to start from.

    Returns
    -------
    Answer
    """
    built = _Model(problem)
    for day in range(problem.crew_days):
        _add_day(built, day)
    _add_trees(built)
    _add_limits(built, budget=goal is Goal.WORTH)
    scale = _set_goal(built, goal, extra)
    if hint is not None:
        _hint(built, hint)
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False
    solver.parameters.random_seed = seed % (2**31)
    solver.parameters.max_deterministic_time = work
    solver.parameters.num_workers = 1
    if seconds is not None:
        solver.parameters.max_time_in_seconds = seconds
    return _answer(built, solver, solver.solve(built.model), goal, scale)


def _answer(
    built: _Model,
    solver: cp_model.CpSolver,
    status: cp_model.CpSolverStatus,
    goal: Goal,
    scale: float,
) -> Answer:
    proven = np.inf if goal is Goal.WORTH else 0.0
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(None, np.nan, proven, none_exists=status == cp_model.INFEASIBLE)
    routes = [_route(built, solver, day) for day in range(built.problem.crew_days)]
    if goal is Goal.WORTH:
        trees = np.concatenate([*routes, np.empty(0, dtype=np.int64)])
        value = float(built.problem.worth[trees].sum())
        # Worths are rounded down by up to a step each, and used crew-days take one off.
        proven = solver.best_objective_bound + built.problem.trees + built.problem.crew_days
    else:
        value = float(round(solver.objective_value * scale))
        proven = np.ceil(solver.best_objective_bound - EPSILON)
    return Answer(routes, value, float(proven * scale), none_exists=False)


def _add_day(built: _Model, day: int) -> None:
    """Add one crew-day's circuit: node 0 is the depot, node k + 1 the k-th tree it may visit."""
    problem, model = built.problem, built.model
    every = np.arange(problem.trees)
    early, late = (span[0] for span in service_spans(problem, np.array([day]), every))
    leg, out, back = _legs(problem, day)
    service = _up(problem.service_minutes)
    capacity = int(np.floor(problem.capacity_minutes[day] * STEPS_PER_MINUTE + EPSILON))
    first = np.maximum(_up(early), out)
    last = np.minimum(_down(late, capacity), capacity - service - back)
    trees = np.flatnonzero(first <= last).tolist()
    used = model.new_bool_var("")
    begin = {k: model.new_int_var(int(first[k]), int(last[k]), "") for k in trees}
    made = {k: model.new_bool_var("") for k in trees}
    arcs: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, ~used)]
    minutes: list[tuple[cp_model.IntVar, int]] = []
    for k in trees:
        arcs.append((k + 1, k + 1, ~made[k]))
        model.add_implication(made[k], used)
        ends = [(0, k + 1, int(out[k])), (k + 1, 0, int(back[k]))]
        ends += [
            (k + 1, j + 1, int(leg[k, j]))
            for j in trees
            if j != k and first[k] + service[k] + leg[k, j] <= last[j]
        ]
        for start, end, leg_minutes in ends:
            taken = model.new_bool_var("")
            arcs.append((start, end, taken))
            minutes.append((taken, leg_minutes))
            built.arcs[day, start, end] = taken
            if start and end:
                ready = begin[k] + int(service[k]) + leg_minutes
                model.add(begin[end - 1] >= ready).only_enforce_if(taken)
        minutes.append((made[k], int(service[k])))
    model.add_circuit(arcs)
    model.add(sum(variable * weight for variable, weight in minutes) <= capacity)
    built.used.append(used)
    built.made |= {(day, k): variable for k, variable in made.items()}


def _legs(problem: Problem, day: int) -> tuple[IntArray, IntArray, IntArray]:
    """Give steps between trees, from the depot and back to it, parking included."""
    depot, place = problem.depot[[day]], problem.place
    moves = place[:, None] != place[None, :]
    between = problem.travel.minutes(place, place) + problem.parking_minutes
    leg = np.where(moves, _up(between), 0)
    out = problem.travel.minutes(depot, place)[0]
    out = np.where(place != depot[0], out + problem.parking_minutes, 0.0)
    return leg, _up(out), _up(problem.travel.minutes(place, depot)[:, 0])


def _up(minutes: FloatArray) -> IntArray:
    """Whole steps, rounded up; beyond any shift where there is no way."""
    steps = np.ceil(np.minimum(minutes, 1e5) * STEPS_PER_MINUTE - EPSILON)
    return np.asarray(steps, dtype=np.int64)


def _down(minutes: FloatArray, most: int) -> IntArray:
    steps = np.floor(np.minimum(minutes * STEPS_PER_MINUTE + EPSILON, most))
    return np.asarray(steps, dtype=np.int64)


def _add_trees(built: _Model) -> None:
    """Visit no tree twice, and every mandatory one."""
    built.visits = [[] for _ in range(built.problem.trees)]
    for (_, tree), variable in built.made.items():
        built.visits[tree].append(variable)
    for tree, visits in enumerate(built.visits):
        if built.problem.mandatory[tree]:
            built.model.add_exactly_one(visits)
        elif len(visits) > 1:
            built.model.add_at_most_one(visits)


def _add_limits(built: _Model, *, budget: bool) -> None:
    problem, model = built.problem, built.model
    if budget and problem.budget_cents is not None:
        model.add(_cost(built) <= problem.budget_cents)
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        cost = np.where(problem.fund == fund, problem.cost_cents, 0)
        model.add(_over_trees(built, cost) <= limit)
    for ward, share in enumerate(problem.ward_least_share.tolist()):
        if share > 0:
            own = problem.service_minutes * ((problem.ward == ward) - share)
            steps = np.floor(own * SHARE_STEPS).astype(np.int64)
            model.add(_over_trees(built, steps) >= 0)


def _set_goal(built: _Model, goal: Goal, extra: Sequence[int]) -> float:
    """Set the objective; returns what one step of it is worth."""
    if goal is Goal.WORTH:
        scale = max(float(built.problem.worth.sum()), 1e-12) / WORTH_STEPS
        steps = np.floor(built.problem.worth / scale).astype(np.int64)
        built.model.maximize(_over_trees(built, steps) - sum(built.used))
        return scale
    if goal is Goal.CENTS:
        built.model.minimize(_cost(built))
    else:
        built.model.minimize(sum(built.used[day] for day in extra))
    return 1.0


def _cost(built: _Model) -> cp_model.LinearExpr:
    days: cp_model.LinearExpr = cp_model.LinearExpr.weighted_sum(
        built.used, built.problem.day_cost_cents.tolist()
    )
    return _over_trees(built, built.problem.cost_cents) + days


def _over_trees(built: _Model, amount: IntArray) -> cp_model.LinearExpr:
    """Sum of an amount over the trees that are visited."""
    total: cp_model.LinearExpr = cp_model.LinearExpr.weighted_sum(
        list(built.made.values()), [int(amount[tree]) for _, tree in built.made]
    )
    return total


def _hint(built: _Model, routes: Sequence[IntArray]) -> None:
    held = {(day, int(tree)) for day, route in enumerate(routes) for tree in route}
    for key, variable in built.made.items():
        built.model.add_hint(variable, key in held)
    taken = set()
    for day, route in enumerate(routes):
        nodes = [0, *(int(tree) + 1 for tree in route), 0]
        taken |= {(day, *pair) for pair in pairwise(nodes) if len(route)}
    for arc, variable in built.arcs.items():
        built.model.add_hint(variable, arc in taken)
    for day, variable in enumerate(built.used):
        built.model.add_hint(variable, len(routes[day]) > 0)


def _route(built: _Model, solver: cp_model.CpSolver, day: int) -> IntArray:
    follows = {
        start: end
        for (of_day, start, end), taken in built.arcs.items()
        if of_day == day and solver.boolean_value(taken)
    }
    route, node = [], follows.get(0, 0)
    while node:
        route.append(node - 1)
        node = follows[node]
    return np.array(route, dtype=np.int64)
