"""Why a tree that a crew-day could visit is not in the plan.

The first of these that holds:

* the bound's prices say that its money or its minutes are worth more elsewhere;
* its direct cost exceeds what the plan leaves of the budget or of its fund;
* with it, a ward would fall below its least share of all minutes;
* no crew-day that is open to it has its service minutes free;
* only a crew-day that is not used has room for it, and there is no money for one;
* its service would fit, but not the way there, on the crew-days that pass near;
* they have the minutes, but not within its hours and those of their other trees;
* none of these: it could still be placed, and the search ended before it was.

Where there are very many trees, the way there is looked at for the worthiest only.
"""

from dataclasses import replace
from enum import StrEnum
from functools import partial

import numpy as np
from numpy.typing import NDArray

from forestcycle.schedule.limits import SHARE_TOLERANCE, money_left
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.prices import net_worth
from forestcycle.schedule.problem import MINUTES_PER_DAY, BoolArray, IntArray, Problem
from forestcycle.schedule.relaxation import relax
from forestcycle.schedule.spare_time import (
    free_minutes,
    lacking_alone,
    least_lacking,
    most_free,
    room_near,
)
from forestcycle.schedule.tree_rules import clock
from forestcycle.travel.remembered import RememberedDrives

MOST_INSERTIONS = 5_000
MOST_HOURS_EXAMINED = 500
SEARCH_ENDED = "It could still be placed; the search ended before."
NOT_EXAMINED = (
    "Some crew-day has its minutes free; whether the way there fits too was not examined."
)

Texts = NDArray[np.object_]


class LeftOut(StrEnum):
    """Why a tree that a crew-day could visit is not in the plan."""

    BUDGET = "costs more than the budget has left"
    FUND = "costs more than its fund has left"
    COST = "other trees are worth more for the money"
    PRICE = "other trees are worth more per crew minute"
    WARD = "another ward would fall below its least share"
    FULL = "no crew-day has the minutes"
    DAY = "no money for a further crew-day"
    FAR = "no crew-day nearby has the minutes"
    HOURS = "no crew-day nearby has the time within its hours"
    UNEXAMINED = "a crew-day has the minutes; the way there was not examined"
    SEARCH = "could still fit; the search ended first"


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
    for explain in (
        _by_price,
        _by_money,
        _by_shares,
        by_room,
    ):  # the first that holds is the one told
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
        rest = int(money_left(problem, plan))
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


def _by_shares(problem: Problem, plan: Plan, left_out: IntArray) -> Explained:
    """With its minutes, another ward would have less than its least share of all."""
    word, text = (np.full(len(left_out), "", dtype=object) for _ in range(2))
    over = np.zeros(len(left_out), dtype=np.bool_)
    service, planned = problem.service_minutes[left_out], problem.service_minutes[plan.tree]
    for ward, share in enumerate(problem.ward_least_share.tolist()):
        own = planned[problem.ward[plan.tree] == ward].sum()
        total = planned.sum() + service
        short = (problem.ward[left_out] != ward) & (own < share * total - SHARE_TOLERANCE)
        over |= short
        word[short] = str(LeftOut.WARD)
        text[short] = [
            f"Takes {minutes:.0f} minutes; a ward that must have {share:.0%} of all minutes would "
            f"then have {own / after:.1%}."
            for minutes, after in zip(service[short], total[short], strict=True)
        ]
    return over, word, text


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
            else f"Worth {a_minute[i]:.3g} per minute at the tree{taken_off[i]}; elsewhere a "
            f"crew minute brings {price[i]:.3g}, and the way there takes minutes too."
        )
    return below, word, text


def _by_room(
    problem: Problem, plan: Plan, left_out: IntArray, *, most_insertions: int
) -> Explained:
    """No crew-day open to it has its minutes free, or none that passes near."""
    word, text = (np.full(len(left_out), "", dtype=object) for _ in range(2))
    free = free_minutes(problem, plan)
    service = problem.service_minutes[left_out]
    most = most_free(problem, free, left_out)
    full = service > most
    word[full] = str(LeftOut.FULL)
    text[full] = [
        f"Takes {minutes:.0f} minutes; of the crew-days open to it, none has over {room:.0f} free."
        for minutes, room in zip(service[full], most[full], strict=True)
    ]
    near = np.flatnonzero(~full)
    near = near[np.argsort(-problem.worth[left_out[near]], kind="stable")]
    unexamined, near = near[most_insertions:], near[:most_insertions]
    word[unexamined], text[unexamined] = str(LeftOut.UNEXAMINED), NOT_EXAMINED
    beside = least_lacking(problem, plan, free, left_out[near])
    cents = money_left(problem, plan)
    payable = lacking_alone(problem, plan, left_out[near], cents=cents)
    lacking = np.minimum(beside, payable)
    no_day = (lacking > 0) & (lacking_alone(problem, plan, left_out[near]) <= 0)
    word[near[no_day]] = str(LeftOut.DAY)
    text[near[no_day]] = [_no_day(minutes, cents) for minutes in service[near[no_day]]]
    too_far = (lacking > 0) & ~no_day
    word[near[too_far]] = str(LeftOut.FAR)
    text[near[too_far]] = [
        _too_far(minutes, lack)
        for minutes, lack in zip(service[near[too_far]], lacking[too_far], strict=True)
    ]
    rest = near[lacking <= 0]
    word[rest], text[rest] = _out_of_hours(problem, plan, left_out[rest], cents)
    return np.ones(len(left_out), dtype=np.bool_), word, text


def _out_of_hours(
    problem: Problem, plan: Plan, trees: IntArray, cents: float
) -> tuple[Texts, Texts]:
    """Word and text of trees that have the minutes but perhaps not the hours."""
    word = np.full(len(trees), str(LeftOut.SEARCH), dtype=object)
    text = np.full(len(trees), SEARCH_ENDED, dtype=object)
    if problem.has_hours:
        word[MOST_HOURS_EXAMINED:] = str(LeftOut.UNEXAMINED)
        text[MOST_HOURS_EXAMINED:] = NOT_EXAMINED
        # Every place on a route is tried: without a memory, each would be a search of its own.
        problem = replace(problem, travel=RememberedDrives.of(problem.travel))
        for row, tree in enumerate(trees[:MOST_HOURS_EXAMINED].tolist()):
            if room_near(problem, plan, tree, cents=cents) is not None:
                continue
            if room_near(problem, plan, tree) is not None:
                word[row] = str(LeftOut.DAY)
                text[row] = _no_day(problem.service_minutes[tree], cents)
            else:
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


def _too_far(minutes: float, lack: float) -> str:
    if np.isinf(lack):
        return f"Takes {minutes:.0f} minutes and the way there; no crew-day open to it passes near."
    return (
        f"Takes {minutes:.0f} minutes and the way there; beside the stops nearest to it, "
        f"{lack:.1f} minutes are lacking at least."
    )


def _no_day(minutes: float, cents: float) -> str:
    return (
        f"Takes {minutes:.0f} minutes and the way there, which no crew-day that is used has left "
        f"near it; the plan leaves {cents / 100:,.2f} of the budget, too little for a further one."
    )
