"""The best plan of a tiny problem, found by trying everything.

Shares nothing with the packer or the bound: it follows the words of the
problem's definition, subset by subset.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit

from forestcycle.schedule.problem import Problem


@dataclass(frozen=True)
class Best:
    """Worth of the best plan, and its trees by crew-day; None where no plan exists."""

    worth: float
    trees: tuple[tuple[int, ...], ...]


def best_plan(problem: Problem, *, promises: bool = True) -> Best | None:
    """Find the best plan of at most about 12 trees and 3 crew-days.

    `promises` asks for every mandatory tree and every ward's least share.
    """
    masks = np.arange(1 << problem.trees)
    has = (masks[:, None] >> np.arange(problem.trees)) & 1 == 1
    day_cost = np.where(masks == 0, 0.0, np.inf)
    choices = []
    for day in range(problem.crew_days):
        can = masks[_day_minutes(problem, day) <= problem.capacity_minutes[day] + 1e-9]
        cost = problem.day_cost_cents[day]
        day_cost, choice = _add_day(day_cost, can, float(cost))
        choices.append(choice)
    allowed = np.isfinite(day_cost) & _within_limits(problem, has, day_cost, promises=promises)
    if not allowed.any():
        return None
    worth = np.where(allowed, has @ problem.worth, -np.inf)
    best = int(np.argmax(worth))
    days, rest = [], best
    for choice in reversed(choices):
        days.append(tuple(np.flatnonzero(has[choice[rest]]).tolist()))
        rest &= ~int(choice[rest])
    return Best(float(worth[best]), tuple(reversed(days)))


@njit
def _add_day(before, can, cost):
    """Cheapest way to visit each set with one more crew-day, and that day's part."""
    best, choice = before.copy(), np.zeros(len(before), np.int64)
    for mine in can:
        if mine == 0:
            continue
        for other in range(len(before)):
            if other & mine == 0 and before[other] + cost < best[other | mine]:
                best[other | mine] = before[other] + cost
                choice[other | mine] = mine
    return best, choice


def _within_limits(problem, has, day_cost, *, promises):
    allowed = np.ones(len(has), dtype=bool)
    if problem.budget_cents is not None:
        allowed &= has @ problem.cost_cents + day_cost <= problem.budget_cents
    for number, budget in enumerate(problem.fund_budget_cents):
        allowed &= has @ np.where(problem.fund == number, problem.cost_cents, 0) <= budget
    if promises:
        allowed &= has[:, problem.mandatory].all(axis=1)
        minutes = has @ problem.service_minutes
        for number, share in enumerate(problem.ward_least_share):
            inside = has @ np.where(problem.ward == number, problem.service_minutes, 0.0)
            allowed &= inside >= share * minutes - 1e-9
    return allowed


def _day_minutes(problem, day):
    """Least minutes in which a crew-day can visit each set of trees, shape (2**n,)."""
    depot = problem.depot[day]
    nodes = np.append(problem.place, depot)
    minutes = problem.travel.minutes(nodes, nodes)
    moved = nodes[:, None] != nodes[None, :]
    legs = np.where(moved, minutes + problem.parking_minutes, 0.0)
    legs[-1, :-1] = minutes[-1, :-1] + np.where(nodes[:-1] != depot, problem.parking_minutes, 0.0)
    home = minutes[:-1, -1]
    usable = problem.open_on[problem.window, problem.date[day]] & (
        (problem.skill & ~problem.crew_skill[day]) == 0
    )
    return _tours(
        legs,
        home,
        problem.service_minutes,
        usable,
        problem.hours_from - problem.start_minute[day],
        problem.hours_until - problem.start_minute[day],
        problem.break_after[day],
        problem.break_minutes[day],
    )


@njit
def _tours(legs, home, service, usable, opens, shuts, break_after, rest):
    """Dynamic programme over sets and last trees; times in working minutes."""
    n = len(service)
    done = np.full((1 << n, n), np.inf)
    best = np.full(1 << n, np.inf)
    best[0] = 0.0
    for mask in range(1, 1 << n):
        for last in range(n):
            if not (mask >> last) & 1 or not usable[last]:
                continue
            rest_mask = mask ^ (1 << last)
            ready = np.inf
            if rest_mask == 0:
                ready = legs[n, last]
            for k in range(n):
                if (rest_mask >> k) & 1:
                    ready = min(ready, done[rest_mask, k] + legs[k, last])
            # Working minutes at which the clock shows the opening hour.
            opening = opens[last]
            if opening >= break_after:
                opening = max(break_after, opening - rest)
            begin = max(ready, opening)
            clock = begin + (rest if begin >= break_after else 0.0)
            if clock + service[last] > shuts[last] + 1e-9:
                continue
            done[mask, last] = begin + service[last]
            best[mask] = min(best[mask], done[mask, last] + home[last])
    return best
