"""The packing problem as a mixed-integer program for HiGHS.

A formulation of its own, sharing nothing with the packer: arcs between trees
per crew-day, and the minutes used on the way as flow along the arcs, which
rules out tours without the depot. Hours are not part of it.
"""

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from forestcycle.schedule.problem import Problem


class _Rows:
    """Rows of a sparse constraint matrix, each with its limits."""

    def __init__(self):
        self.entries, self.low, self.high = [], [], []

    def add(self, columns, weights, low, high):
        row = len(self.low)
        weights = np.broadcast_to(weights, np.shape(columns))
        self.entries += [(row, int(c), float(w)) for c, w in zip(columns, weights, strict=True)]
        self.low.append(low)
        self.high.append(high)

    def constraint(self, width):
        row, column, weight = zip(*self.entries, strict=True)
        matrix = coo_array((weight, (row, column)), shape=(len(self.low), width))
        return LinearConstraint(matrix.tocsr(), self.low, self.high)


def best_worth(problem: Problem, *, seconds: float) -> tuple[float, float]:
    """Worth of the best plan found in the time, and the limit proved on any plan's worth."""
    n, days = problem.trees, problem.crew_days
    depot = n
    arc = np.arange(days * (n + 1) ** 2).reshape(days, n + 1, n + 1)
    used = arc.size + arc
    visit = 2 * arc.size + np.arange(days * n).reshape(days, n)
    width = 2 * arc.size + visit.size
    upper = np.ones(width)
    upper[arc.size : 2 * arc.size] = np.inf
    for day in range(days):
        upper[arc[day].diagonal()[:-1]] = 0.0
        able = (problem.skill & ~problem.crew_skill[day]) == 0
        upper[visit[day]] = able & problem.open_on[problem.window, problem.date[day]]
    rows = _Rows()
    for day in range(days):
        legs = _legs(problem, day)
        capacity = problem.capacity_minutes[day]
        for tree in range(n):
            # One arc in, one out, where the tree is visited.
            rows.add([*arc[day, :, tree], visit[day, tree]], [1.0] * (n + 1) + [-1.0], 0, 0)
            rows.add([*arc[day, tree, :], visit[day, tree]], [1.0] * (n + 1) + [-1.0], 0, 0)
            # Minutes passed on leaving: those on arrival, the service and the next leg.
            rows.add(
                [*used[day, tree, :], *used[day, :, tree], *arc[day, tree, :], visit[day, tree]],
                [1.0] * (n + 1)
                + [-1.0] * (n + 1)
                + (-legs[tree]).tolist()
                + [-problem.service_minutes[tree]],
                0,
                0,
            )
        rows.add(arc[day, depot, :], 1.0, 1, 1)
        rows.add(arc[day, :, depot], 1.0, 1, 1)
        for start in range(n + 1):
            for end in range(n + 1):
                rows.add([used[day, start, end], arc[day, start, end]], [1, -capacity], -np.inf, 0)
        for tree in range(n):
            rows.add([used[day, depot, tree], arc[day, depot, tree]], [1, -legs[depot, tree]], 0, 0)
    for tree in range(n):
        must = 1 if problem.mandatory[tree] else 0
        rows.add(visit[:, tree], 1.0, must, 1)
    _money(problem, rows, arc, visit)
    found = milp(
        -np.concatenate([np.zeros(2 * arc.size), np.tile(problem.worth, days)]),
        integrality=np.concatenate([np.ones(arc.size), np.zeros(arc.size), np.ones(visit.size)]),
        bounds=Bounds(0, upper),
        constraints=rows.constraint(width),
        options={"time_limit": seconds},
    )
    return (0.0 if found.x is None else -found.fun), -found.mip_dual_bound


def _money(problem, rows, arc, visit):
    days, n = visit.shape
    cost = np.tile(problem.cost_cents, days)
    if problem.budget_cents is not None:
        # A crew-day is paid unless it goes from the depot straight back to it.
        free = arc[:, n, n]
        rows.add(
            [*visit.ravel(), *free],
            [*cost, *-problem.day_cost_cents],
            -np.inf,
            problem.budget_cents - problem.day_cost_cents.sum(),
        )
    for fund, limit in enumerate(problem.fund_budget_cents):
        weight = np.where(np.tile(problem.fund == fund, days), cost, 0)
        rows.add(visit.ravel(), weight, -np.inf, limit)


def _legs(problem, day):
    """Minutes between trees, and from and to the depot as the last node, with parking."""
    nodes = np.append(problem.place, problem.depot[day])
    minutes = problem.travel.minutes(nodes, nodes)
    parking = np.where(nodes[:, None] != nodes[None, :], problem.parking_minutes, 0.0)
    parking[:, -1] = 0.0
    return minutes + parking
