"""Packing problems of any size for the benchmarks, and a check of their plans.

The even city: trees along a square grid of streets 120 m apart, four depots,
service of 8 to 90 minutes, days of 420 minutes, Manhattan travel at 18 km/h,
one tree in five or so can be visited. The hard city: the streets, places and
depots of the sample city, with sparse suburbs; recall windows and closed
seasons, three skills, a budget of the year and two of funds, all of which bind.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial.distance import cdist

from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import MINUTES_PER_DAY, Problem
from forestcycle.settings.travel import TravelRules
from forestcycle.travel import build_travel
from sample_city.city import make_city

SIDE_METRES_AT_100_000 = 15_000.0
BLOCK_METRES = 120.0
METRES_PER_MINUTE = 300.0
DAY_MINUTES = 420.0
DAY_CENTS = 120_000
GROUND, CLIMB, LIFT = 1, 2, 4


@dataclass(frozen=True)
class GridTravel:
    """Manhattan distance at 18 km/h, which is the way along a fine grid."""

    points: np.ndarray
    kind: str = "streets"

    def minutes(self, origins, destinations):
        start, end = self.points[np.asarray(origins)], self.points[np.asarray(destinations)]
        return cdist(start, end, "cityblock") / METRES_PER_MINUTE


def even_city(trees: int, crew_days: int, seed: int) -> Problem:
    """Dense, without windows, skills or money."""
    random = np.random.default_rng(seed)
    side = SIDE_METRES_AT_100_000 * np.sqrt(trees / 100_000)
    points = random.uniform(0, side, (trees, 2))
    along = random.integers(0, 2, trees)
    points[np.arange(trees), along] = (
        np.round(points[np.arange(trees), along] / BLOCK_METRES) * BLOCK_METRES
    )
    depots = random.uniform(0.2 * side, 0.8 * side, (4, 2))
    travel = GridTravel(np.vstack([points, depots]))
    return _problem(random, points, np.arange(trees), trees, travel, crew_days, parking=0.0)


def hard_city(trees: int, crew_days: int, seed: int) -> Problem:
    """Streets, windows, skills, funds and a budget."""
    random = np.random.default_rng(seed)
    layers = make_city(trees=trees, seed=seed).layers
    found = layers["trees"].geometry
    found = found[~found.is_empty & (found.x > 1)]
    points = np.column_stack([found.x, found.y])
    depots = layers["depots"].geometry
    home = np.vstack([np.column_stack([depots.x, depots.y]), _two_more(points, random)])
    travel, place = build_travel(*points.T, *home.T, layers["streets"], TravelRules())
    opens = random.integers(-200, 300, len(points)) // 30 * 30
    shut = random.integers(0, 3, len(points))
    kinds, window = np.unique(np.column_stack([opens, shut]), axis=0, return_inverse=True)
    day = np.arange(365)
    closed = np.array([(-1, -1), (90, 150), (180, 240)])[kinds[:, 1]]
    open_on = (day >= kinds[:, [0]]) & ~((day >= closed[:, [0]]) & (day < closed[:, [1]]))
    problem = _problem(
        random, points, place, travel.place_count, travel, crew_days, parking=3.0,
        window=window.reshape(-1), open_on=open_on,
        date=np.sort(random.integers(0, 365, crew_days)),
        skill=random.choice([GROUND, CLIMB, LIFT], len(points), p=[0.6, 0.25, 0.15]),
        crew_skill=random.choice(
            [GROUND, GROUND | CLIMB, GROUND | CLIMB | LIFT], crew_days, p=[0.3, 0.4, 0.3]
        ),
        fund=random.integers(-1, 2, len(points)),
        cost_cents=random.integers(2_000, 20_000, len(points)),
        day_cost_cents=np.full(crew_days, DAY_CENTS),
        budget_cents=int(crew_days * DAY_CENTS * 1.5),
        fund_budget_cents=np.full(2, int(crew_days * DAY_CENTS * 0.15)),
    )  # fmt: skip
    return _only_visitable(problem)


def _two_more(points, random):
    """Two depots beside those of the city."""
    return points[random.integers(0, len(points), 2)] + 5.0


def _problem(random, points, place, places, travel, crew_days, *, parking, **changes) -> Problem:
    trees = len(points)
    service = np.clip(np.exp(random.normal(np.log(22), 0.5, trees)), 8, 90)
    fields = {
        "tree": np.arange(trees),
        "place": np.asarray(place, dtype=np.int64),
        "x": points[:, 0],
        "y": points[:, 1],
        "worth": np.exp(random.normal(0, 0.6, trees)) * np.sqrt(service) * 5,
        "service_minutes": service,
        "cost_cents": np.zeros(trees),
        "fund": np.full(trees, -1),
        "ward": np.full(trees, -1),
        "skill": np.full(trees, GROUND),
        "window": np.zeros(trees),
        "open_on": np.ones((1, crew_days), dtype=np.bool_),
        "hours_from": np.zeros(trees),
        "hours_until": np.full(trees, MINUTES_PER_DAY),
        "mandatory": np.zeros(trees, dtype=np.bool_),
        "date": np.arange(crew_days),
        "crew": np.arange(crew_days) % 4,
        "depot": places + np.arange(crew_days) % 4,
        "start_minute": np.full(crew_days, 440.0),
        "capacity_minutes": np.full(crew_days, DAY_MINUTES),
        "break_after": np.full(crew_days, DAY_MINUTES / 2),
        "break_minutes": np.full(crew_days, 30.0),
        "crew_skill": np.full(crew_days, GROUND),
        "day_cost_cents": np.zeros(crew_days),
        "budget_cents": None,
        "fund_budget_cents": np.zeros(0),
        "ward_least_share": np.zeros(0),
        "parking_minutes": parking,
        "travel": travel,
    } | changes
    for name in WHOLE:
        fields[name] = np.asarray(fields[name], dtype=np.int64)
    for name in ("skill", "crew_skill"):
        fields[name] = np.asarray(fields[name], dtype=np.uint32)
    return Problem(**fields)


WHOLE = (
    "cost_cents", "fund", "ward", "window", "date", "crew", "depot", "day_cost_cents",
    "fund_budget_cents",
)  # fmt: skip


def _only_visitable(problem: Problem) -> Problem:
    """Leave out trees that no crew-day could visit for want of a way, a skill or a date."""
    depots = np.unique(problem.depot)
    places = np.arange(problem.place.max() + 1)
    ways = problem.travel.minutes(depots, places) + problem.travel.minutes(places, depots).T
    reached = (ways < DAY_MINUTES / 2).any(axis=0)[problem.place]
    opened = problem.open_on[:, problem.date].any(axis=1)[problem.window]
    kept = reached & opened
    trees = {
        name: getattr(problem, name)[kept]
        for name in (
            "tree", "place", "x", "y", "worth", "service_minutes", "cost_cents", "fund", "ward",
            "skill", "window", "hours_from", "hours_until", "mandatory",
        )
    }  # fmt: skip
    rest = {name: getattr(problem, name) for name in problem.__dataclass_fields__}
    return Problem(**(rest | trees))


def check_plan(problem: Problem, plan: Plan) -> float:
    """Recompute every limit; return the worth."""
    trees, day = plan.tree, plan.crew_day
    assert len(np.unique(trees)) == len(trees)
    assert problem.open_on[problem.window[trees], problem.date[day]].all()
    assert not (problem.skill[trees] & ~problem.crew_skill[day]).any()
    for crew_day in np.unique(day):
        stops = trees[day == crew_day]
        depot = problem.depot[[crew_day]]
        nodes = np.concatenate([depot, problem.place[stops], depot])
        distinct, at = np.unique(nodes, return_inverse=True)
        legs = problem.travel.minutes(distinct, distinct)[at[:-1], at[1:]]
        parked = (np.diff(nodes)[:-1] != 0).sum() * problem.parking_minutes
        minutes = legs.sum() + parked + problem.service_minutes[stops].sum()
        assert minutes <= problem.capacity_minutes[crew_day] + 1e-6, (crew_day, minutes)
    if problem.budget_cents is not None:
        days = problem.day_cost_cents[np.unique(day)].sum()
        assert problem.cost_cents[trees].sum() + days <= problem.budget_cents
    for fund, limit in enumerate(problem.fund_budget_cents):
        assert problem.cost_cents[trees][problem.fund[trees] == fund].sum() <= limit
    return float(problem.worth[trees].sum())
