"""Choose crew-days for the whole city from all that were found.

Packing proposes many candidate routes for every crew-day. CP-SAT picks at
most one for each, so that no tree is visited twice and every budget, fund and
ward share is kept, with the most worth.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from forestcycle.schedule.problem import FloatArray, IntArray, Problem

WORTH_STEPS = 1_000_000
SHARE_STEPS = 1_000
MISSED_MANDATORY = 20 * WORTH_STEPS


@dataclass(frozen=True)
class Column:
    """One crew-day's candidate route: trees in order."""

    crew_day: int
    trees: tuple[int, ...]


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


def choose(
    problem: Problem,
    columns: Sequence[Column],
    current: Sequence[Column],
    effort: Effort,
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

    Returns
    -------
    list of Column or None
        None if no choice was found in time.
    """
    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in columns]
    _at_most_once(model, columns, taken)
    missed = _mandatory(model, problem, columns, taken)
    _budgets(model, problem, columns, taken)
    _ward_shares(model, problem, columns, taken)
    worth = np.array([problem.worth[list(column.trees)].sum() for column in columns])
    scale = WORTH_STEPS / max(float(worth.max(initial=0.0)), 1e-12)
    value = np.floor(worth * scale).astype(np.int64)
    objective = cp_model.LinearExpr.weighted_sum(taken, value.tolist())
    model.maximize(objective - MISSED_MANDATORY * sum(missed))
    held = {(column.crew_day, column.trees) for column in current}
    for column, variable in zip(columns, taken, strict=True):
        model.add_hint(variable, (column.crew_day, column.trees) in held)
    solver = _solver(effort)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return [
        column
        for column, variable in zip(columns, taken, strict=True)
        if solver.boolean_value(variable)
    ]


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


def _at_most_once(
    model: cp_model.CpModel, columns: Sequence[Column], taken: list[cp_model.IntVar]
) -> None:
    by_day: dict[int, list[cp_model.IntVar]] = {}
    by_tree: dict[int, list[cp_model.IntVar]] = {}
    for column, variable in zip(columns, taken, strict=True):
        by_day.setdefault(column.crew_day, []).append(variable)
        for tree in column.trees:
            by_tree.setdefault(tree, []).append(variable)
    for rivals in (*by_day.values(), *by_tree.values()):
        if len(rivals) > 1:
            model.add_at_most_one(rivals)


def _mandatory(
    model: cp_model.CpModel,
    problem: Problem,
    columns: Sequence[Column],
    taken: list[cp_model.IntVar],
) -> list[cp_model.IntVar]:
    """One variable per mandatory tree: true where no chosen column has it."""
    must = np.flatnonzero(problem.mandatory)
    offers: dict[int, list[cp_model.IntVar]] = {int(tree): [] for tree in must}
    for column, variable in zip(columns, taken, strict=True):
        for tree in column.trees:
            if tree in offers:
                offers[tree].append(variable)
    missed = []
    for variables in offers.values():
        miss = model.new_bool_var("")
        model.add(sum(variables) + miss == 1)
        missed.append(miss)
    return missed


def _budgets(
    model: cp_model.CpModel,
    problem: Problem,
    columns: Sequence[Column],
    taken: list[cp_model.IntVar],
) -> None:
    direct = [int(problem.cost_cents[list(column.trees)].sum()) for column in columns]
    if problem.budget_cents is not None:
        whole = [
            cost + int(problem.day_cost_cents[column.crew_day])
            for cost, column in zip(direct, columns, strict=True)
        ]
        model.add(cp_model.LinearExpr.weighted_sum(taken, whole) <= problem.budget_cents)
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        cost = [
            int(problem.cost_cents[_of(problem.fund, column, fund)].sum()) for column in columns
        ]
        model.add(cp_model.LinearExpr.weighted_sum(taken, cost) <= limit)


def _ward_shares(
    model: cp_model.CpModel,
    problem: Problem,
    columns: Sequence[Column],
    taken: list[cp_model.IntVar],
) -> None:
    """Minutes of a ward less its share of all minutes are not below 0."""
    minutes: FloatArray = problem.service_minutes
    for ward, share in enumerate(problem.ward_least_share.tolist()):
        if share <= 0:
            continue
        surplus = [
            float(minutes[_of(problem.ward, column, ward)].sum())
            - share * float(minutes[list(column.trees)].sum())
            for column in columns
        ]
        steps = np.floor(np.array(surplus) * SHARE_STEPS).astype(np.int64).tolist()
        model.add(cp_model.LinearExpr.weighted_sum(taken, steps) >= 0)


def _of(label: IntArray, column: Column, wanted: int) -> IntArray:
    """Trees of a column with a given label."""
    trees = np.array(column.trees, dtype=np.int64)
    return np.compress(label[trees] == wanted, trees)
