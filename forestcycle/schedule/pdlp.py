"""OR-Tools' first-order solver for large linear programs.

It stops at a tolerance, so what it returns proves nothing by itself. The
bound is computed from its prices afterwards and holds whatever they are.
"""

import numpy as np
from ortools.pdlp import solve_log_pb2, solvers_pb2
from ortools.pdlp.python import pdlp

from forestcycle.schedule.linear_program import LinearProgram, Solution

USEFUL = (
    solve_log_pb2.TERMINATION_REASON_OPTIMAL,
    solve_log_pb2.TERMINATION_REASON_TIME_LIMIT,
    solve_log_pb2.TERMINATION_REASON_ITERATION_LIMIT,
)


def solve_roughly(
    program: LinearProgram, *, tolerance: float = 1e-4, iterations: int = 20_000
) -> Solution | None:
    """Solve a linear program to a relative tolerance with PDLP.

    The work limit is a number of iterations, not a time, so that the outcome
    does not depend on the machine's speed.

    Parameters
    ----------
    program : LinearProgram
    tolerance : float
        Relative, on the objective and the rows.
    iterations : int

    Returns
    -------
    Solution or None
        None where PDLP found that the program has no solution.
    """
    model = pdlp.QuadraticProgram()
    model.objective_vector = -program.worth
    model.constraint_matrix = program.rows.tocsc()
    model.constraint_lower_bounds = program.low
    model.constraint_upper_bounds = program.high
    model.variable_lower_bounds = np.zeros(len(program.worth))
    model.variable_upper_bounds = program.most
    limits = solvers_pb2.PrimalDualHybridGradientParams()
    criteria = limits.termination_criteria.simple_optimality_criteria
    criteria.eps_optimal_relative = tolerance
    criteria.eps_optimal_absolute = tolerance * tolerance
    limits.termination_criteria.iteration_limit = iterations
    limits.num_threads = 2
    result = pdlp.primal_dual_hybrid_gradient(model, limits)
    if result.solve_log.termination_reason not in USEFUL:
        return None
    return Solution(
        x=np.asarray(result.primal_solution, dtype=np.float64),
        price=-np.asarray(result.dual_solution, dtype=np.float64),
    )
