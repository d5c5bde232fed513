"""A plan gone through stop by stop, with a clock and a purse, as a crew would live it.

Shares nothing with the packer: it follows the words of the problem's definition.
"""

from collections.abc import Iterator, Sequence

from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem

CLOSE = 1e-6
"""Minutes; far below the hundredth of a minute that the packer reckons in."""


def routes_of(problem: Problem, plan: Plan) -> list[list[int]]:
    """Trees of each crew-day in order."""
    routes: list[list[int]] = [[] for _ in range(problem.crew_days)]
    for day, order, tree in zip(plan.crew_day, plan.order, plan.tree, strict=True):
        assert order == len(routes[day]), "stops out of order"
        routes[day].append(int(tree))
    return routes


def broken_limits(problem: Problem, routes: Sequence[Sequence[int]]) -> list[str]:
    """Say in words each limit that a plan breaks; nothing if it can be worked."""
    visited = [int(tree) for route in routes for tree in route]
    broken = [f"tree {tree} twice" for tree in sorted(set(visited)) if visited.count(tree) > 1]
    for day, route in enumerate(routes):
        broken += [f"crew-day {day}: {what}" for what in _broken_on(problem, day, route)]
    return [*broken, *_broken_by_year(problem, routes, visited)]


def _broken_on(problem: Problem, day: int, route: Sequence[int]) -> Iterator[str]:
    if not len(route):
        return
    here = depot = int(problem.depot[day])
    worked = 0.0
    for tree in route:
        if not problem.open_on[problem.window[tree], problem.date[day]]:
            yield f"tree {tree} on a closed date"
        if int(problem.skill[tree]) & ~int(problem.crew_skill[day]):
            yield f"tree {tree} without the skill"
        there = int(problem.place[tree])
        if there != here:
            worked += _minutes(problem, here, there) + problem.parking_minutes
            here = there
        worked = _wait(problem, day, worked, float(problem.hours_from[tree]))
        leaves = _clock(problem, day, worked) + problem.service_minutes[tree]
        if leaves > problem.hours_until[tree] + CLOSE:
            yield f"tree {tree} after its hours"
        worked += problem.service_minutes[tree]
    worked += _minutes(problem, here, depot)
    if worked > problem.capacity_minutes[day] + CLOSE:
        yield f"{worked - problem.capacity_minutes[day]:.6f} minutes too long"


def _clock(problem: Problem, day: int, worked: float) -> float:
    """Minute of the day; once it is due, the break has been taken."""
    rest = problem.break_minutes[day] if worked >= problem.break_after[day] else 0.0
    return float(problem.start_minute[day] + worked + rest)


def _wait(problem: Problem, day: int, worked: float, until: float) -> float:
    """Working minutes once the crew has stood by until the clock shows a minute of the day."""
    missing = until - _clock(problem, day, worked)
    if missing <= 0:
        return worked
    due = float(problem.break_after[day])
    if worked >= due or worked + missing < due:
        return worked + missing
    # The break falls due while the crew waits, and is taken out of the wait.
    return max(due, worked + missing - float(problem.break_minutes[day]))


def _minutes(problem: Problem, start: int, end: int) -> float:
    return float(problem.travel.minutes([start], [end])[0, 0])


def _broken_by_year(
    problem: Problem, routes: Sequence[Sequence[int]], visited: list[int]
) -> Iterator[str]:
    spent = sum(int(problem.cost_cents[tree]) for tree in visited)
    spent += sum(int(problem.day_cost_cents[day]) for day, route in enumerate(routes) if len(route))
    if problem.budget_cents is not None and spent > problem.budget_cents:
        yield f"{spent - problem.budget_cents} cents over the budget"
    for fund, limit in enumerate(problem.fund_budget_cents.tolist()):
        spent = sum(int(problem.cost_cents[tree]) for tree in visited if problem.fund[tree] == fund)
        if spent > limit:
            yield f"{spent - limit} cents over fund {fund}"
    minutes = problem.service_minutes
    everywhere = sum(float(minutes[tree]) for tree in visited)
    for ward, share in enumerate(problem.ward_least_share.tolist()):
        own = sum(float(minutes[tree]) for tree in visited if problem.ward[tree] == ward)
        if own < share * everywhere - CLOSE:
            yield f"ward {ward} short of {share * everywhere - own:.6f} minutes"
