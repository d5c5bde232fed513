"""Why a tree is not planned: facts and prices, never guesses.

A tree that no crew-day could visit has its reason from :func:`build_problem`.
Of the others, in this order:

* the bound's prices say that its money or its minutes are worth more elsewhere;
* its direct cost exceeds what the plan leaves of the budget or of its fund;
* no crew-day that is open to it has its service minutes free;
* its service would fit, but not the way there, on the crew-days that pass near;
* they have the minutes, but not within its hours and those of their other trees;
* none of these: it could still be placed, and the search ended before it was.
"""

from enum import StrEnum
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from forestcycle.inventory import Inventory
from forestcycle.practice import Assessment
from forestcycle.schedule.eligibility import Ineligible
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.prices import net_worth
from forestcycle.schedule.problem import (
    MINUTES_PER_DAY,
    BoolArray,
    FloatArray,
    IntArray,
    Problem,
)
from forestcycle.schedule.relaxation import relax
from forestcycle.schedule.territory import may_visit
from forestcycle.schedule.timetable import legs_of
from forestcycle.schedule.tree_rules import clock, equipment_texts, hours_texts
from forestcycle.settings import CycleSettings

NEAR_STOPS = 4
MOST_INSERTIONS = 5_000
MOST_HOURS_EXAMINED = 500
TREES_AT_ONCE = 100
SEARCH_ENDED = "It could still be placed; the search ended before."
NOT_EXAMINED = (
    "Some crew-day has its minutes free; whether the way there fits too was not examined."
)

Texts = NDArray[np.object_]


class LeftOut(StrEnum):
    """Why a tree that a crew-day could visit is not in the plan."""

    BUDGET = "budget"
    FUND = "fund"
    COST = "below the price of its cost"
    PRICE = "below the price of a crew minute"
    FULL = "no crew-day has the minutes"
    FAR = "no crew-day nearby has the minutes"
    HOURS = "no crew-day nearby has the time within its hours"
    SEARCH = "the search ended"


def reasons(
    problem: Problem,
    plan: Plan,
    ineligible: NDArray[np.str_],
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
    *,
    most_insertions: int = MOST_INSERTIONS,
) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
    """Say of every tree of the inventory why it is not planned.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    ineligible : (n,) str
        Of :class:`Ineligible` per inventory tree, as from :func:`build_problem`.
    inventory : Inventory
    assessment : Assessment
    settings : CycleSettings
    most_insertions : int
        For so many trees, the worthiest first, the way there is looked at too.

    Returns
    -------
    reason, reason_text : (n,) str
        As a word, and with its figures; both empty where the tree is planned.

    Raises
    ------
    ValueError
        ``ineligible`` is not of this inventory.
    """
    reason = ineligible.astype(object)
    text = _ineligible_texts(ineligible, assessment)
    _say_rules(text, ineligible, inventory, assessment, settings)
    left_out = np.setdiff1d(np.arange(problem.trees), plan.tree)
    word, facts = left_out_reasons(problem, plan, left_out, most_insertions=most_insertions)
    reason[problem.tree[left_out]] = word
    text[problem.tree[left_out]] = facts
    if len(inventory.trees) != len(reason):
        raise ValueError("there must be one reason per inventory tree")
    return reason.astype(np.str_), text.astype(np.str_)


def _ineligible_texts(ineligible: NDArray[np.str_], assessment: Assessment) -> Texts:
    table = assessment.trees
    text = np.array([f"{word[:1].upper()}{word[1:]}." if word else "" for word in ineligible])
    text = text.astype(object)
    later = ineligible == str(Ineligible.NOT_YET_DUE)
    day = table["not_before"][later].dt.strftime("%Y-%m-%d")
    text[later] = [f"May be pruned again from {date} on." for date in day]
    unskilled = ineligible == str(Ineligible.NO_SKILL)
    skills = table["skill"][unskilled].astype(str).str.replace("_", " ")
    text[unskilled] = [f"Needs the skill {skill}; no crew has it." for skill in skills]
    long = ineligible == str(Ineligible.TOO_LONG)
    text[long] = [
        f"Takes {minutes:.0f} minutes; with the way there that is longer than any shift."
        for minutes in table["minutes"][long]
    ]
    return text


def _say_rules(
    text: Texts,
    ineligible: NDArray[np.str_],
    inventory: Inventory,
    assessment: Assessment,
    settings: CycleSettings,
) -> None:
    """Say which hours or equipment keep trees out, where that is why."""
    table = assessment.trees
    unequipped = ineligible == str(Ineligible.NO_EQUIPMENT)
    if unequipped.any():
        needed = equipment_texts(settings, inventory, table)[unequipped]
        skills = table["skill"][unequipped].astype(str).str.replace("_", " ")
        text[unequipped] = [
            f"Needs {names.replace('; ', ' and ')}; no crew with the skill {skill} has that."
            for names, skill in zip(needed, skills, strict=True)
        ]
    late = ineligible == str(Ineligible.OUT_OF_HOURS)
    if late.any():
        hours = hours_texts(settings, inventory)[late]
        text[late] = [
            f"Takes {minutes:.0f} minutes and may be worked {when} only; no crew can get there, "
            "be done in that time and be back within its shift."
            for minutes, when in zip(table["minutes"][late], hours, strict=True)
        ]


def left_out_reasons(
    problem: Problem,
    plan: Plan,
    left_out: IntArray,
    *,
    most_insertions: int = MOST_INSERTIONS,
) -> tuple[Texts, Texts]:
    """Say why trees of the problem are not in the plan.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    left_out : (k,) int64
        Positions in the problem's arrays.
    most_insertions : int
        As for :func:`reasons`.

    Returns
    -------
    reason, reason_text : (k,) object
    """
    word = np.full(len(left_out), str(LeftOut.SEARCH), dtype=object)
    text = np.full(len(left_out), SEARCH_ENDED, dtype=object)
    asked = np.arange(len(left_out))
    by_room = partial(_by_room, most_insertions=most_insertions)
    for explain in (_by_price, _by_money, by_room):  # the first that holds is the one told
        found, what, facts = explain(problem, plan, left_out[asked])
        word[asked[found]], text[asked[found]] = what[found], facts[found]
        asked = asked[~found]
    return word, text


Explained = tuple[BoolArray, Texts, Texts]


def _by_money(problem: Problem, plan: Plan, left_out: IntArray) -> Explained:
    """Its direct cost exceeds what the plan leaves."""
    cost, fund = problem.cost_cents[left_out], problem.fund[left_out]
    word, text = (np.full(len(left_out), "", dtype=object) for _ in range(2))
    over = np.zeros(len(left_out), dtype=np.bool_)
    if problem.budget_cents is not None:
        rest = int(_rest_of_budget(problem, plan))
        over = cost > rest
        word[over] = str(LeftOut.BUDGET)
        text[over] = [_costs(c, rest, "the budget") for c in cost[over]]
    for number, budget in enumerate(problem.fund_budget_cents):
        rest = int(budget - problem.cost_cents[plan.tree][problem.fund[plan.tree] == number].sum())
        dear = (fund == number) & (cost > rest)
        word[dear] = str(LeftOut.FUND)
        text[dear] = [_costs(c, rest, "its fund") for c in cost[dear]]
        over |= dear
    return over, word, text


def _costs(cents: int, rest: int, source: str) -> str:
    return f"Costs {cents / 100:,.2f}; the plan leaves {rest / 100:,.2f} of {source}."


def _by_price(problem: Problem, plan: Plan, left_out: IntArray) -> Explained:
    """Find trees worth less than the price of what they take, in the best group for them."""
    word, text = (np.full(len(left_out), "", dtype=object) for _ in range(2))
    if plan.bound is None:
        return np.zeros(len(left_out), dtype=np.bool_), word, text
    bound = plan.bound
    trees = relax(problem, bound.groups)
    net = np.empty(problem.trees)
    net[trees.tree] = net_worth(problem, trees, bound.prices)
    net, worth = net[left_out], problem.worth[left_out]
    group = bound.best_group[left_out]
    below = (bound.surplus[left_out] <= 0) & (group >= 0)
    dear = below & (net <= 0)
    word[below], word[dear] = str(LeftOut.PRICE), str(LeftOut.COST)
    a_minute = net / problem.service_minutes[left_out]
    price = (bound.prices.minute + bound.prices.stop_minute)[group]
    taken_off = np.where(net < worth - 1e-9, " once its cost is paid for", "")
    for i in np.flatnonzero(below):
        text[i] = (
            f"Worth {worth[i]:.3g}; where money is short, its cost outweighs that."
            if dear[i]
            else f"Worth {a_minute[i]:.3g} per minute at the tree{taken_off[i]}; a crew minute "
            f"goes for {price[i]:.3g}, and the way there comes on top."
        )
    return below, word, text


def _by_room(
    problem: Problem, plan: Plan, left_out: IntArray, *, most_insertions: int
) -> Explained:
    """No crew-day open to it has its minutes free, or none that passes near."""
    word, text = (np.full(len(left_out), "", dtype=object) for _ in range(2))
    free = free_minutes(problem, plan)
    service = problem.service_minutes[left_out]
    most = _most_free(problem, free, left_out)
    full = service > most
    word[full] = str(LeftOut.FULL)
    text[full] = [
        f"Takes {minutes:.0f} minutes; of the crew-days open to it, none has over {room:.0f} free."
        for minutes, room in zip(service[full], most[full], strict=True)
    ]
    near = np.flatnonzero(~full)
    near = near[np.argsort(-problem.worth[left_out[near]], kind="stable")]
    unexamined, near = near[most_insertions:], near[:most_insertions]
    text[unexamined] = NOT_EXAMINED
    word[unexamined] = str(LeftOut.SEARCH)
    lacking = np.minimum(
        _least_lacking(problem, plan, free, left_out[near]),
        _lacking_alone(problem, plan, left_out[near]),
    )
    far = near[lacking > 0]
    word[far] = str(LeftOut.FAR)
    text[far] = [
        _too_far(minutes, lack)
        for minutes, lack in zip(service[far], lacking[lacking > 0], strict=True)
    ]
    rest = near[lacking <= 0]
    word[rest], text[rest] = _out_of_hours(problem, plan, left_out[rest])
    return np.ones(len(left_out), dtype=np.bool_), word, text


def _out_of_hours(problem: Problem, plan: Plan, trees: IntArray) -> tuple[Texts, Texts]:
    """Word and text of trees that have the minutes but perhaps not the hours."""
    word = np.full(len(trees), str(LeftOut.SEARCH), dtype=object)
    text = np.full(len(trees), SEARCH_ENDED, dtype=object)
    if problem.has_hours:
        text[MOST_HOURS_EXAMINED:] = NOT_EXAMINED
        for row, tree in enumerate(trees[:MOST_HOURS_EXAMINED].tolist()):
            if not _fits_somewhere_near(problem, plan, tree):
                word[row], text[row] = str(LeftOut.HOURS), _not_in_hours(problem, tree)
    return word, text


def _not_in_hours(problem: Problem, tree: int) -> str:
    opens, shuts = problem.hours_from[tree], problem.hours_until[tree]
    own = opens > 0 or shuts < MINUTES_PER_DAY
    when = f" and may be worked {clock(opens)}-{clock(shuts)} only" if own else ""
    return (
        f"Takes {problem.service_minutes[tree]:.0f} minutes{when}; the crew-days that pass near "
        "have no such time left within the hours that it and their other trees must keep."
    )


def _fits_somewhere_near(problem: Problem, plan: Plan, tree: int) -> bool:
    """Whether a tree can be put in anywhere on the crew-days of the stops nearest to it."""
    every = np.arange(problem.crew_days)
    allowed = every[may_visit(problem, every, np.array([tree]))[:, 0]]
    stops = np.flatnonzero(np.isin(plan.crew_day, allowed))
    away = np.hypot(
        problem.x[plan.tree[stops]] - problem.x[tree], problem.y[plan.tree[stops]] - problem.y[tree]
    )
    near = plan.crew_day[stops[np.argsort(away, kind="stable")[:NEAR_STOPS]]]
    free = np.setdiff1d(allowed, plan.crew_day)
    free = free[problem.day_cost_cents[free] <= _rest_of_budget(problem, plan)]
    alike = _one_of_each_kind(problem, free)
    for day in (*np.unique(near).tolist(), *alike.tolist()):
        route = plan.tree[plan.crew_day == day]
        if any(fits(problem, day, np.insert(route, k, tree)) for k in range(len(route) + 1)):
            return True
    return False


def _one_of_each_kind(problem: Problem, crew_days: IntArray) -> IntArray:
    """Crew-days of which no two have the same depot, minutes and clock."""
    columns = (
        problem.depot,
        problem.capacity_minutes,
        problem.start_minute,
        problem.break_after,
        problem.break_minutes,
    )
    kinds = np.column_stack([column[crew_days] for column in columns])
    return crew_days[np.unique(kinds, axis=0, return_index=True)[1]]


def _too_far(minutes: float, lack: float) -> str:
    if np.isinf(lack):
        return f"Takes {minutes:.0f} minutes and the way there; no crew-day open to it passes near."
    return (
        f"Takes {minutes:.0f} minutes and the way there; beside the stops nearest to it, "
        f"{lack:.1f} minutes are lacking at least."
    )


def free_minutes(problem: Problem, plan: Plan) -> FloatArray:
    """Minutes that each crew-day has left, shape (c,).

    Parameters
    ----------
    problem : Problem
    plan : Plan
    """
    free = problem.capacity_minutes.astype(np.float64).copy()
    bounds = np.searchsorted(plan.crew_day, np.arange(problem.crew_days + 1))
    for day in np.unique(plan.crew_day).tolist():
        trees = plan.tree[bounds[day] : bounds[day + 1]]
        free[day] -= legs_of(problem, day, trees).sum() + problem.service_minutes[trees].sum()
    return free


def _most_free(problem: Problem, free: FloatArray, left_out: IntArray) -> FloatArray:
    """Most free minutes of any crew-day with the skill and an open date."""
    kinds = np.column_stack([problem.window[left_out], problem.skill[left_out].astype(np.int64)])
    distinct, kind = np.unique(kinds, axis=0, return_inverse=True)
    most = [
        np.max(free, where=_open_days(problem, window, skill), initial=0.0)
        for window, skill in distinct
    ]
    return np.array(most, dtype=np.float64)[kind.reshape(-1)]


def _open_days(problem: Problem, window: int, skill: int) -> BoolArray:
    able = (np.uint32(skill) & ~problem.crew_skill) == 0
    return np.asarray(able & problem.open_on[window, problem.date], dtype=np.bool_)


def _least_lacking(problem: Problem, plan: Plan, free: FloatArray, trees: IntArray) -> FloatArray:
    """Minutes that the best insertion beside a near stop lacks; 0 or less where it fits.

    Infinite where no stop near it is on a crew-day that is open to it.
    """
    lacking = np.full(len(trees), np.inf)
    if not len(plan.tree) or not len(trees):
        return lacking
    stops = KDTree(np.column_stack([problem.x[plan.tree], problem.y[plan.tree]]))
    order = np.argsort(problem.place[trees], kind="stable")
    for start in range(0, len(trees), TREES_AT_ONCE):
        rows = order[start : start + TREES_AT_ONCE]
        here = trees[rows]
        points = np.column_stack([problem.x[here], problem.y[here]])
        count = min(NEAR_STOPS, len(plan.tree))
        near = np.asarray(stops.query(points, k=np.arange(1, count + 1))[1], dtype=np.int64)
        lacking[rows] = _lacking(problem, plan, free, here, near).min(axis=1)
    return lacking


def _lacking_alone(problem: Problem, plan: Plan, trees: IntArray) -> FloatArray:
    """Minutes that the best unused crew-day lacks for a tree alone; infinite without one."""
    lacking = np.full(len(trees), np.inf)
    unused = np.setdiff1d(np.arange(problem.crew_days), plan.crew_day)
    unused = unused[problem.day_cost_cents[unused] <= _rest_of_budget(problem, plan)]
    kinds = np.column_stack([problem.window[trees], problem.skill[trees].astype(np.int64)])
    distinct, kind = np.unique(kinds, axis=0, return_inverse=True)
    for depot in np.unique(problem.depot[unused]):
        round_trip = _both_ways(problem, int(depot), problem.place[trees])
        days = unused[problem.depot[unused] == depot]
        capacity = [
            np.max(
                problem.capacity_minutes[days],
                where=_open_days(problem, window, skill)[days],
                initial=-np.inf,
            )
            for window, skill in distinct
        ]
        room = np.array(capacity)[kind.reshape(-1)]
        needed = round_trip + problem.parking_minutes + problem.service_minutes[trees]
        lacking = np.minimum(lacking, needed - room)
    return lacking


def _both_ways(problem: Problem, depot: int, places: IntArray) -> FloatArray:
    nodes, at = np.unique(places, return_inverse=True)
    there = problem.travel.minutes(np.array([depot]), nodes)[0]
    back = problem.travel.minutes(nodes, np.array([depot]))[:, 0]
    return np.asarray((there + back)[at], dtype=np.float64)


def _rest_of_budget(problem: Problem, plan: Plan) -> float:
    if problem.budget_cents is None:
        return np.inf
    spent = problem.cost_cents[plan.tree].sum()
    spent += problem.day_cost_cents[np.unique(plan.crew_day)].sum()
    return float(problem.budget_cents - spent)


def _lacking(
    problem: Problem, plan: Plan, free: FloatArray, trees: IntArray, stops: IntArray
) -> FloatArray:
    """Minutes lacking to visit each tree right after each of its stops, shape (k, stops)."""
    day = plan.crew_day[stops]
    here = problem.place[plan.tree[stops]]
    last = np.append(plan.crew_day[1:] != plan.crew_day[:-1], True)[stops]
    following = problem.place[plan.tree[np.minimum(stops + 1, len(plan.tree) - 1)]]
    after = np.where(last, problem.depot[day], following)
    mine = np.broadcast_to(problem.place[trees][:, None], stops.shape)
    nodes, at = np.unique(np.stack([here, mine, after]), return_inverse=True)
    at = at.reshape(3, *stops.shape)
    minutes = problem.travel.minutes(nodes, nodes)
    parks = np.where(mine != here, problem.parking_minutes, 0.0)
    parks_again = np.where(~last & (after != mine), problem.parking_minutes, 0.0)
    parked = np.where(~last & (after != here), problem.parking_minutes, 0.0)
    detour = minutes[at[0], at[1]] + minutes[at[1], at[2]] - minutes[at[0], at[2]]
    needed = problem.service_minutes[trees][:, None] + detour + parks + parks_again - parked
    able = (problem.skill[trees][:, None] & ~problem.crew_skill[day]) == 0
    is_open = able & problem.open_on[problem.window[trees][:, None], problem.date[day]]
    return np.asarray(np.where(is_open, needed - free[day], np.inf), dtype=np.float64)
