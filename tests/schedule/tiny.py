"""Random problems that are small enough to try everything."""

from dataclasses import dataclass, replace

import numpy as np

from forestcycle.schedule.problem import MINUTES_PER_DAY, Problem


@dataclass(frozen=True)
class TableTravel:
    """Minutes from a table that keeps the triangle inequality."""

    table: np.ndarray
    kind: str = "streets"

    def minutes(self, origins, destinations):
        return self.table[np.ix_(np.asarray(origins), np.asarray(destinations))]


def shortest(table):
    """Replace every entry by the shortest way (Floyd and Warshall)."""
    table = table.copy()
    np.fill_diagonal(table, 0.0)
    for via in range(len(table)):
        table = np.minimum(table, table[:, [via]] + table[[via], :])
    return table


def tiny_problem(rng, *, trees=6, crew_days=2, plain=False, **changes):
    """Make a random problem; each kind of limit is in it about every other time."""

    def sometimes(chance=0.5):
        return not plain and rng.random() < chance

    depots, dates, windows = int(rng.integers(1, 3)), 3, 3
    places = int(rng.integers(1, trees + 1))
    points = rng.uniform(0, rng.choice([10.0, 60.0]), (places + depots, 2))
    table = np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))
    if sometimes():
        table = shortest(table * rng.uniform(0.5, 2.0, table.shape))
    place = rng.integers(0, places, trees)
    service = rng.uniform(5, 50, trees)
    hours = np.sort(rng.uniform(400, 800, (trees, 2)), axis=1) if sometimes(0.3) else None
    skills = np.array([1, 2, 3, 4], dtype=np.uint32)
    free = np.zeros(0)
    fields = {
        "tree": np.arange(trees),
        "place": place,
        "x": points[place, 0],
        "y": points[place, 1],
        "worth": rng.uniform(1, 10, trees),
        "service_minutes": service,
        "cost_cents": rng.integers(0, 1000, trees),
        "fund": rng.integers(-1, 2, trees),
        "ward": rng.integers(-1, 2, trees),
        "skill": rng.choice(skills, trees) if sometimes() else np.ones(trees, dtype=np.uint32),
        "window": rng.integers(0, windows, trees),
        "open_on": rng.random((windows, dates)) < (0.6 if sometimes() else 2.0),
        "hours_from": np.zeros(trees) if hours is None else hours[:, 0],
        "hours_until": np.full(trees, MINUTES_PER_DAY) if hours is None else hours[:, 1] + 60,
        "mandatory": rng.random(trees) < (0.2 if sometimes() else 0.0),
        "date": rng.integers(0, dates, crew_days),
        "crew": np.arange(crew_days),
        "depot": places + rng.integers(0, depots, crew_days),
        "start_minute": np.full(crew_days, 420.0),
        "capacity_minutes": rng.choice([60.0, 120.0, 200.0], crew_days),
        "break_after": np.full(crew_days, 50.0),
        "break_minutes": np.full(crew_days, rng.choice([0.0, 20.0])),
        "crew_skill": rng.choice(np.array([3, 7], dtype=np.uint32), crew_days),
        "day_cost_cents": rng.integers(0, 1500, crew_days)
        if sometimes()
        else np.zeros(crew_days, dtype=np.int64),
        "budget_cents": int(rng.integers(500, 5000)) if sometimes() else None,
        "fund_budget_cents": rng.integers(300, 2000, 2) if sometimes() else free.astype(np.int64),
        "ward_least_share": rng.uniform(0, 0.4, 2) if sometimes() else free,
        "parking_minutes": float(rng.choice([0.0, 4.0, 12.0])),
        "travel": TableTravel(table),
    }
    if not len(fields["fund_budget_cents"]):
        fields["fund"] = np.full(trees, -1)
    if not len(fields["ward_least_share"]):
        fields["ward"] = np.full(trees, -1)
    return Problem(**(fields | changes))


def odd_problem(rng, *, trees=7, crew_days=2):
    """Make a tiny problem odder: clocks that differ, holes, short days, all or nothing promised."""
    problem = tiny_problem(rng, trees=trees, crew_days=crew_days)
    return replace(problem, **_odd_clocks(rng, problem), **_odd_limits(rng, problem))


def _odd_clocks(rng, problem):
    days, trees, changes = problem.crew_days, problem.trees, {}
    if rng.random() < 0.5:
        changes["start_minute"] = rng.uniform(360, 600, days)
    if rng.random() < 0.5:
        changes["break_after"] = rng.uniform(0, 150, days)
        changes["break_minutes"] = rng.choice([0.0, 10.0, 45.0], days)
    if rng.random() < 0.4:
        opens, has_hours = rng.uniform(380, 700, trees), rng.random(trees) < 0.6
        shuts = opens + rng.uniform(20, 200, trees)
        changes["hours_from"] = np.where(has_hours, opens, 0.0)
        changes["hours_until"] = np.where(has_hours, shuts, MINUTES_PER_DAY)
    if rng.random() < 0.3:
        table = problem.travel.table.copy()
        table[rng.random(table.shape) < 0.3] = np.inf
        changes["travel"] = TableTravel(shortest(table))
    return changes


def _odd_limits(rng, problem):
    days, trees, changes = problem.crew_days, problem.trees, {}
    if rng.random() < 0.2:
        changes["capacity_minutes"] = rng.choice([1.0, 30.0, 90.0, 240.0], days)
    if rng.random() < 0.3:
        changes["worth"] = np.exp(rng.normal(0, 3, trees))
    if rng.random() < 0.2:
        changes["budget_cents"] = int(rng.integers(0, 800))
    if rng.random() < 0.3:
        changes["mandatory"] = rng.random(trees) < rng.choice([0.5, 1.0])
    if rng.random() < 0.2:
        changes["cost_cents"] = np.zeros(trees, dtype=np.int64)
    return changes
