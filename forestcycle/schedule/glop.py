"""OR-Tools' simplex solver, through its door for sparse arrays.

``model_builder_helper`` is the layer below OR-Tools' own model builder. It is
used because it takes whole arrays: building a large program term by term takes
longer than solving it. It may change between minor versions, so nothing
outside this file touches it.
"""

from typing import Any

import numpy as np
from ortools.linear_solver.python import model_builder_helper

from forestcycle.schedule.linear_program import LinearProgram, Solution


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
    model = model_builder_helper.ModelBuilderHelper()
    lowest: Any = np.zeros(len(program.worth))
    arrays: list[Any] = [program.most, program.worth, program.low, program.high, program.rows]
    model.fill_model_from_sparse_data(lowest, *arrays)
    model.set_maximize(maximize=True)
    solver = model_builder_helper.ModelSolverHelper("GLOP")
    solver.set_time_limit_in_seconds(seconds)
    solver.solve(model)
    if solver.status() != model_builder_helper.SolveStatus.OPTIMAL:
        return None
    return Solution(
        x=np.asarray(solver.variable_values(), dtype=np.float64),
        price=np.asarray(solver.dual_values(), dtype=np.float64),
    )
