"""The packing problem as a choice of sets of trees, for HiGHS.

A formulation of its own, sharing nothing with the packer, that proves optima of forty
trees: every set of trees that a crew-day can visit is listed, and HiGHS chooses one for
each. It takes crew-days of which each holds a few trees only. Hours are not part of it.
"""

from itertools import pairwise, permutations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, vstack

from forestcycle.schedule.problem import Problem

CLOSE = 1e-9


INFEASIBLE = 2


def best_worth_of_sets(problem: Problem, *, seconds: float) -> tuple[float, float] | None:
    """Worth of the best plan found in the time, and the limit proved; None if there is no plan."""
    day, sets = [], []
    for number in range(problem.crew_days):
        own = _sets_of(problem, number)
        sets += own
        day += [number] * len(own)
    if not sets:
        return None if problem.mandatory.any() else (0.0, 0.0)
    column = np.repeat(np.arange(len(sets)), [len(trees) for trees in sets])
    tree = np.array([tree for trees in sets for tree in trees], dtype=np.int64)

    def summed(amount):
        return np.bincount(column, weights=amount[tree], minlength=len(sets))

    def rows(row, high, weight=1.0):
        values = np.broadcast_to(weight, len(row[0]))
        return coo_array((values, row), shape=(len(high), len(sets))), high

    every = np.arange(len(sets))
    limits = [
        rows((tree, column), np.ones(problem.trees)),
        rows((np.array(day), every), np.ones(problem.crew_days)),
    ]
    zero = np.zeros(len(sets), dtype=np.int64)
    if problem.budget_cents is not None:
        cost = summed(problem.cost_cents) + problem.day_cost_cents[day]
        limits.append(rows((zero, every), np.array([problem.budget_cents]), cost))
    for fund, limit in enumerate(problem.fund_budget_cents):
        cost = summed(np.where(problem.fund == fund, problem.cost_cents, 0))
        limits.append(rows((zero, every), np.array([limit]), cost))
    for ward, share in enumerate(problem.ward_least_share):
        lacking = problem.service_minutes * (share - (problem.ward == ward))
        limits.append(rows((zero, every), np.zeros(1), summed(lacking)))
    least = np.concatenate(
        [problem.mandatory.astype(float), *(np.full(len(high), -np.inf) for _, high in limits[1:])]
    )
    found = milp(
        -summed(problem.worth),
        integrality=np.ones(len(sets)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(
            vstack([matrix for matrix, _ in limits]).tocsc(),
            least,
            np.concatenate([high for _, high in limits]),
        ),
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    if found.status == INFEASIBLE:
        return None
    return (0.0 if found.x is None else -found.fun), -found.mip_dual_bound


def _sets_of(problem: Problem, day: int) -> list[tuple[int, ...]]:
    """Sets that a crew-day can visit; a set fits only if it does with any tree less."""
    able = (problem.skill & ~problem.crew_skill[day]) == 0
    able &= problem.open_on[problem.window, problem.date[day]]
    nodes = np.append(problem.place, problem.depot[day])
    legs = problem.travel.minutes(nodes, nodes)
    legs = legs + np.where(nodes[:, None] != nodes[None, :], problem.parking_minutes, 0.0)
    legs[:, -1] -= np.where(nodes != nodes[-1], problem.parking_minutes, 0.0)
    fitting: list[tuple[int, ...]] = []
    last: list[tuple[int, ...]] = [()]
    trees = np.flatnonzero(able).tolist()
    while last:
        longer = [
            (*known, tree) for known in last for tree in trees if tree > max(known, default=-1)
        ]
        last = [one for one in longer if _fits(problem, day, legs, one)]
        fitting += last
    return fitting


def _fits(problem: Problem, day: int, legs: np.ndarray, trees: tuple[int, ...]) -> bool:
    work = sum(problem.service_minutes[list(trees)])
    room = problem.capacity_minutes[day] - work + CLOSE
    if room < 0:
        return False
    table = legs.tolist()

    def way(order: tuple[int, ...]) -> float:
        stops = (-1, *order, -1)
        return sum(table[a][b] for a, b in pairwise(stops))

    return any(way(order) <= room for order in permutations(trees))
