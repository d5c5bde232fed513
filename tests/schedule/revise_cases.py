"""Small plans in force, what happens to them, and the best answer found by trying everything."""

from dataclasses import replace

import numpy as np

from forestcycle.errors import PlanError
from forestcycle.schedule import solve
from forestcycle.schedule.limits import within_limits
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.revise import Revised, revise
from forestcycle.schedule.revise_search import Limits, MoneyPrices
from forestcycle.schedule.revise_standing import Standing, narrowed
from forestcycle.schedule.revise_worth import Judge, MovePrices
from forestcycle.schedule.subset import subset
from forestcycle.schedule.territory import may_visit
from tests.schedule.exact import _day_minutes
from tests.schedule.tiny import tiny_problem

PRICES = MovePrices(other_day=2.0, other_crew=0.5)
NO_MONEY = MoneyPrices(0.0, np.zeros(0), np.zeros(0))
ROUNDS = 2


def planned_city(seed: int, **changes) -> tuple[Problem, Plan] | None:
    """Make a random city with two crews and its plan; None where it has none."""
    rng = np.random.default_rng(seed)
    crew_days = changes.pop("crew_days", 4)
    problem = tiny_problem(
        rng,
        crew_days=crew_days,
        **(
            {"date": np.arange(crew_days) // 2, "crew": np.arange(crew_days) % 2, "trees": 8}
            | changes
        ),
    )
    try:
        return problem, solve(problem, rounds=2, seed=1)
    except PlanError:
        return None


def standing_of(problem: Problem, plan: Plan, **changes) -> Standing:
    """Say a plan as what was promised; nothing done, nothing locked."""
    day, crew, order = (np.full(problem.trees, -1) for _ in range(3))
    day[plan.tree] = problem.date[plan.crew_day]
    crew[plan.tree] = problem.crew[plan.crew_day]
    order[plan.tree] = plan.order
    none = np.zeros(problem.trees, dtype=np.bool_)
    fields = {
        "day": day,
        "crew": crew,
        "order": order,
        "done": none,
        "from_day": 0,
        "better_trees": none,
        "better_days": np.zeros(problem.crew_days, dtype=np.bool_),
        "lock_day": np.full(problem.trees, -1),
        "lock_crew": np.full(problem.trees, -1),
        "lock_order": none,
    }
    return Standing(**(fields | changes))


def without_day(problem: Problem, standing: Standing, crew_day: int) -> tuple[Problem, Standing]:
    """Lose one crew-day."""
    kept = np.arange(problem.crew_days) != crew_day
    return subset(problem, crew_days=kept), replace(
        standing, better_days=standing.better_days[kept]
    )


def money_of(plan: Plan) -> MoneyPrices:
    prices = plan.bound.prices
    return MoneyPrices(prices.cent, prices.fund_cent, prices.ward_minute)


def revised(problem: Problem, standing: Standing, money=NO_MONEY, prices=PRICES) -> Revised:
    return revise(problem, standing, prices, money, Limits(None, ROUNDS, seed=1))


def as_lists(plan: Plan, crew_days: int) -> list[list[int]]:
    return [plan.tree[plan.crew_day == day].tolist() for day in range(crew_days)]


def check_routes(problem: Problem, standing: Standing, routes) -> None:
    """Every rule, straight from the problem's words."""
    narrow = narrowed(problem, standing)
    trees = np.concatenate(routes)
    assert len(np.unique(trees)) == len(trees)
    for day, route in enumerate(routes):
        if not len(route):
            continue
        assert narrow.open_on[narrow.window[route], day].all()
        assert not (problem.skill[route] & ~problem.crew_skill[day]).any()
        assert fits(problem, day, route)
    used = [day for day, route in enumerate(routes) if len(route)]
    if problem.budget_cents is not None:
        cost = problem.cost_cents[trees].sum() + problem.day_cost_cents[used].sum()
        assert cost <= problem.budget_cents
    for fund, limit in enumerate(problem.fund_budget_cents):
        assert problem.cost_cents[trees][problem.fund[trees] == fund].sum() <= limit
    assert np.isin(np.flatnonzero(narrow.mandatory), trees).all()


def trees_with_a_gap(narrow: Problem, judge: Judge, trees, routes) -> list[int]:
    """Which trees a used crew-day could take beside its own, at a gain and within all limits."""
    used = np.flatnonzero([len(route) for route in routes])
    return [
        tree
        for tree in trees.tolist()
        for day, route in enumerate(routes)
        if len(route)
        and within_limits(narrow, used, np.append(np.concatenate(routes), tree))
        and may_visit(narrow, np.array([day]), np.array([tree]))[0, 0]
        and narrow.worth[tree] + judge.bonus(np.array(day), np.array(tree)) > 0
        and any(fits(narrow, day, np.insert(route, at, tree)) for at in range(len(route) + 1))
    ]


def best_value(problem: Problem, standing: Standing, prices: MovePrices = PRICES) -> float:
    """Most worth less price of moves of any plan, without money, promises and wards."""
    narrow = narrowed(problem, standing)
    judge = Judge(problem, standing, prices)
    masks = np.arange(1 << problem.trees)
    has = (masks[:, None] >> np.arange(problem.trees)) & 1 == 1
    best = np.where(masks == 0, 0.0, -np.inf)
    for day in range(problem.crew_days):
        worth = problem.worth + judge.bonus(np.array(day), np.arange(problem.trees))
        can = masks[_day_minutes(narrow, day) <= problem.capacity_minutes[day] + 1e-9]
        before, value = best.copy(), has @ worth
        for mine in can[can > 0].tolist():
            others = masks[(masks & mine) == 0]
            best[others | mine] = np.maximum(best[others | mine], before[others] + value[mine])
    return float(best.max()) - prices.other_day * int(standing.promised.sum())
