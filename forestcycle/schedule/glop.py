"""OR-Tools' solvers for linear and mixed-integer programs, through its door for sparse arrays.

``model_builder_helper`` is the layer below OR-Tools' own model builder. It is
used because it takes whole arrays: building a large program term by term takes
longer than solving it. It may change between minor versions, so nothing
outside this file touches it.
"""

from typing import Any

import numpy as np
from ortools.linear_solver.python import model_builder_helper

from forestcycle.schedule.linear_program import LinearProgram, Solution
from forestcycle.schedule.problem import BoolArray, FloatArray


def solve_exactly(program: LinearProgram, *, seconds: float = 600.0) -> Solution | None:
    """Solve a linear program to optimality with GLOP.

    Parameters
    ----------
    program : LinearProgram
    seconds : float
        Longest time to work.

    Returns
    -------
    Solution or None
        None where the program has no solution or none was proven in time.
    """
    model = _model(program)
    solver = model_builder_helper.ModelSolverHelper("GLOP")
    solver.set_time_limit_in_seconds(seconds)
    solver.solve(model)
    if solver.status() != model_builder_helper.SolveStatus.OPTIMAL:
        return None
    return Solution(
        x=np.asarray(solver.variable_values(), dtype=np.float64),
        price=np.asarray(solver.dual_values(), dtype=np.float64),
    )


def solve_whole(
    program: LinearProgram, whole: BoolArray, *, gap: float, seconds: float = 60.0
) -> FloatArray | None:
    """Solve a program in which some variables must be whole numbers, with SCIP.

    Parameters
    ----------
    program : LinearProgram
    whole : (v,) bool
        Which variables must be whole.
    gap : float
        Relative distance from the best possible that is good enough.
    seconds : float
        Longest time to work; the best solution found by then is returned.

    Returns
    -------
    (v,) float64 or None
        None where no solution was found.
    """
    found = solve_whole_with_bound(program, whole, gap=gap, seconds=seconds)
    return None if found is None else found[0]


def solve_whole_with_bound(
    program: LinearProgram, whole: BoolArray, *, gap: float, seconds: float = 60.0
) -> tuple[FloatArray, float] | None:
    """Solve as :func:`solve_whole` does, and say what no solution can pass.

    Parameters
    ----------
    program, whole, gap, seconds
        As for :func:`solve_whole`.

    Returns
    -------
    x : (v,) float64
    bound : float
        Of the worth, proven by SCIP.

    None where no solution was found.
    """
    model = _model(program)
    for place in np.flatnonzero(whole).tolist():
        model.set_var_integrality(place, is_integer=True)
    solver = model_builder_helper.ModelSolverHelper("SCIP")
    solver.set_time_limit_in_seconds(seconds)
    solver.set_solver_specific_parameters(f"limits/gap = {gap}")
    solver.solve(model)
    if not solver.has_solution():
        return None
    x = np.asarray(solver.variable_values(), dtype=np.float64)
    return x, float(solver.best_objective_bound())


def _model(program: LinearProgram) -> model_builder_helper.ModelBuilderHelper:
    model = model_builder_helper.ModelBuilderHelper()
    lowest: Any = np.zeros(len(program.worth))
    arrays: list[Any] = [program.most, program.worth, program.low, program.high, program.rows]
    model.fill_model_from_sparse_data(lowest, *arrays)
    model.set_maximize(maximize=True)
    return model
