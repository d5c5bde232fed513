"""Choose crew-days for the whole city from all that were found.

Packing proposes many candidate routes for every crew-day. CP-SAT picks at
most one for each, so that no tree is visited twice and every budget, fund and
ward share is kept, with the most worth. Where such limits meet few trees, it
may leave out stops of the routes it picks: a shorter route takes no longer.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from forestcycle.schedule.kinds import crew_day_kinds
from forestcycle.schedule.problem import BoolArray, FloatArray, IntArray, Problem

WORTH_STEPS = 1_000_000
SHARE_STEPS = 1_000
MISSED_MANDATORY = 20 * WORTH_STEPS
MOST_LOOSE_STOPS = 5_000
MOST_TREES_TO_SWAP = 500


@dataclass(frozen=True)
class Column:
    """One crew-day's candidate route: trees in order."""

    crew_day: int
    trees: tuple[int, ...]


def columns_of(routes: Sequence[IntArray]) -> list[Column]:
    """Columns of the crew-days that are used.

    Parameters
    ----------
    routes : sequence of (s,) int64
        Trees of each crew-day in order.

    Returns
    -------
    list of Column
    """
    return [Column(day, tuple(trees.tolist())) for day, trees in enumerate(routes) if len(trees)]


@dataclass(frozen=True)
class Effort:
    """How long to look: wall seconds, or reproducible units of work.

    Attributes
    ----------
    seconds : float or None
    work : float or None
        CP-SAT's deterministic time; then it runs on one thread.
    workers : int
    seed : int
    """

    seconds: float | None
    work: float | None
    workers: int
    seed: int


@dataclass(frozen=True)
class _Visits:
    """Every stop of every column: its tree, its column, and whether it is made."""

    tree: IntArray
    column: IntArray
    made: list[cp_model.IntVar]


def choose(
    problem: Problem,
    columns: Sequence[Column],
    current: Sequence[Column],
    effort: Effort,
    *,
    bonus: FloatArray | None = None,
) -> list[Column] | None:
    """Pick at most one column per crew-day.

    Parameters
    ----------
    problem : Problem
    columns : sequence of Column
        Each feasible for its crew-day by itself.
    current : sequence of Column
        Columns of the plan so far; they need not keep the budgets.
    effort : Effort
    bonus : (stops of all columns,) float64, optional
        What each stop is worth in its column besides the worth of its tree.

    Returns
    -------
    list of Column or None
        None if no choice was found in time.
    """
    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in columns]
    visits = _visits(model, problem, columns, taken)
    alike = _alike(problem)
    _at_most_once(model, columns, taken, visits, alike)
    missed = _mandatory(model, problem, visits)
    _budgets(model, problem, columns, taken, visits)
    _ward_shares(model, problem, visits)
    worth = problem.worth[visits.tree] + (0.0 if bonus is None else bonus)
    most = np.bincount(visits.column, weights=worth, minlength=1).max()
    scale = WORTH_STEPS / max(float(most), 1e-12)
    value = np.floor(worth * scale).astype(np.int64)
    model.maximize(_total(visits.made, value) - MISSED_MANDATORY * sum(missed))
    _hint(model, columns, current, taken, visits)
    solver = _solver(effort)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    made = np.array([solver.boolean_value(visit) for visit in visits.made], dtype=np.bool_)
    return _on_own_days(_as_chosen(columns, visits, made), alike)


def _as_chosen(columns: Sequence[Column], visits: _Visits, made: BoolArray) -> list[Column]:
    chosen: dict[int, list[int]] = {}
    for number, tree in zip(visits.column[made].tolist(), visits.tree[made].tolist(), strict=True):
        chosen.setdefault(number, []).append(tree)
    return [Column(columns[number].crew_day, tuple(trees)) for number, trees in chosen.items()]


def _alike(problem: Problem) -> IntArray:
    """Give one number to crew-days that could swap any routes.

    With many trees each crew-day keeps to its area anyway, and is its own kind.
    """
    if problem.trees > MOST_TREES_TO_SWAP:
        return np.arange(problem.crew_days)
    return crew_day_kinds(problem, skill=True, cost=True, dates=True)


def _on_own_days(chosen: list[Column], alike: IntArray) -> list[Column]:
    """Move routes that want the same crew-day to free ones of its kind."""
    free = np.ones(len(alike), dtype=np.bool_)
    result: list[Column] = []
    crowded: list[Column] = []
    for column in chosen:
        (result if free[column.crew_day] else crowded).append(column)
        free[column.crew_day] = False
    for column in crowded:
        day = int(np.flatnonzero(free & (alike == alike[column.crew_day]))[0])
        free[day] = False
        result.append(Column(day, column.trees))
    return result


def _visits(
    model: cp_model.CpModel,
    problem: Problem,
    columns: Sequence[Column],
    taken: list[cp_model.IntVar],
) -> _Visits:
    """Let stops be left out one by one where limits meet few trees."""
    lengths = np.array([len(column.trees) for column in columns], dtype=np.int64)
    tree = np.array([tree for column in columns for tree in column.trees], dtype=np.int64)
    column = np.repeat(np.arange(len(columns)), lengths)
    made = [taken[number] for number in column.tolist()]
    if _is_limited(problem) and len(tree) <= MOST_LOOSE_STOPS:
        made = [model.new_bool_var("") for _ in made]
        for visit, number in zip(made, column.tolist(), strict=True):
            model.add_implication(visit, taken[number])
    return _Visits(tree, column, made)


def _is_limited(problem: Problem) -> bool:
    funds, wards = len(problem.fund_budget_cents), len(problem.ward_least_share)
    return problem.budget_cents is not None or funds > 0 or wards > 0


def _hint(
    model: cp_model.CpModel,
    columns: Sequence[Column],
    current: Sequence[Column],
    taken: list[cp_model.IntVar],
    visits: _Visits,
) -> None:
    held = {(column.crew_day, column.trees) for column in current}
    holds = [(column.crew_day, column.trees) in held for column in columns]
    for variable, is_held in zip(taken, holds, strict=True):
        model.add_hint(variable, is_held)
    for visit, number in zip(visits.made, visits.column.tolist(), strict=True):
        if visit is not taken[number]:
            model.add_hint(visit, holds[number])


def _solver(effort: Effort) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    # Its own handler of Ctrl-C would leave the process with none that Python knows of.
    solver.parameters.catch_sigint_signal = False
    solver.parameters.random_seed = effort.seed % (2**31)
    if effort.seconds is not None:
        solver.parameters.max_time_in_seconds = effort.seconds
        solver.parameters.num_workers = effort.workers
    else:
        solver.parameters.max_deterministic_time = effort.work or 1.0
        solver.parameters.num_workers = 1
    return solver


def _total(variables: list[cp_model.IntVar], weights: IntArray) -> cp_model.LinearExpr:
    total: cp_model.LinearExpr = cp_model.LinearExpr.weighted_sum(variables, weights.tolist())
    return total


def _at_most_once(
    model: cp_model.CpModel,
    columns: Sequence[Column],
    taken: list[cp_model.IntVar],
    visits: _Visits,
    alike: IntArray,
) -> None:
    by_kind: dict[int, list[cp_model.IntVar]] = {}
    by_tree: dict[int, list[cp_model.IntVar]] = {}
    for column, variable in zip(columns, taken, strict=True):
        by_kind.setdefault(int(alike[column.crew_day]), []).append(variable)
    for tree, visit in zip(visits.tree.tolist(), visits.made, strict=True):
        by_tree.setdefault(tree, []).append(visit)
    days = np.bincount(alike)
    alone = [rivals for kind, rivals in by_kind.items() if days[kind] == 1]
    for rivals in (*alone, *by_tree.values()):
        if len(rivals) > 1:
            model.add_at_most_one(rivals)
    for kind, rivals in by_kind.items():
        if days[kind] > 1:
            model.add(sum(rivals) <= int(days[kind]))


def _mandatory(model: cp_model.CpModel, problem: Problem, visits: _Visits) -> list[cp_model.IntVar]:
    """One variable per mandatory tree: true where it is not visited."""
    offers: dict[int, list[cp_model.IntVar]] = {
        int(tree): [] for tree in np.flatnonzero(problem.mandatory)
    }
    for stop in np.flatnonzero(problem.mandatory[visits.tree]).tolist():
        offers[int(visits.tree[stop])].append(visits.made[stop])
    missed = []
    for visit in offers.values():
        miss = model.new_bool_var("")
        model.add(sum(visit) + miss == 1)
        missed.append(miss)
    return missed


def _budgets(
    model: cp_model.CpModel,
    problem: Problem,
    columns: Sequence[Column],
    taken: list[cp_model.IntVar],
    visits: _Visits,
) -> None:
    direct, fund = problem.cost_cents[visits.tree], problem.fund[visits.tree]
    if problem.budget_cents is not None:
        days = problem.day_cost_cents[[column.crew_day for column in columns]]
        model.add(_total(visits.made, direct) + _total(taken, days) <= problem.budget_cents)
    for number, limit in enumerate(problem.fund_budget_cents.tolist()):
        model.add(_total(visits.made, np.where(fund == number, direct, 0)) <= limit)


def _ward_shares(model: cp_model.CpModel, problem: Problem, visits: _Visits) -> None:
    """Minutes of a ward less its share of all minutes are not below 0."""
    minutes: FloatArray = problem.service_minutes[visits.tree]
    for ward, share in enumerate(problem.ward_least_share.tolist()):
        if share > 0:
            surplus = minutes * ((problem.ward[visits.tree] == ward) - share)
            steps = np.floor(surplus * SHARE_STEPS).astype(np.int64)
            model.add(_total(visits.made, steps) >= 0)
