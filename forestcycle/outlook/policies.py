"""Simple habits of choosing trees, followed on the same dynamics for comparison."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from forestcycle.outlook.horizon import Horizon
from forestcycle.outlook.respond import Use, Walk
from forestcycle.outlook.states import BoolArray, FloatArray, IntArray
from forestcycle.outlook.supply import SKILL_COUNT, has_skill
from forestcycle.outlook.trajectory import MEASURE, MEASURES, Trajectory

HALVINGS = 10
FINISHED = 0.95
"""A ward of the rotation is done once this share of its visits is made."""


@dataclass(frozen=True)
class Candidates:
    """Trees that could be visited in a year, one entry per cell or state, ward and skill.

    Attributes
    ----------
    ward, skill, age_class : (n,) int64
    worth, minutes, cents, trees : (n,) float64
        Per tree, travel included; how many trees.
    wards : int
    turn : int
        Ward with which the rotation goes on.
    """

    ward: IntArray
    skill: IntArray
    age_class: IntArray
    worth: FloatArray
    minutes: FloatArray
    cents: FloatArray
    trees: FloatArray
    wards: int
    turn: int


def _worst_first(candidates: Candidates) -> FloatArray:
    return -candidates.worth


def _young_first(candidates: Candidates) -> FloatArray:
    return candidates.age_class * 1e9 - candidates.worth


def _fixed_rotation(candidates: Candidates) -> FloatArray:
    place: FloatArray = ((candidates.ward - candidates.turn) % candidates.wards).astype(np.float64)
    return place


POLICIES: dict[str, Callable[[Candidates], FloatArray]] = {
    "fixed rotation": _fixed_rotation,
    "worst first": _worst_first,
    "young first": _young_first,
}
"""Habits by name; each gives the order of visits, lowest first."""


def simulate_policy(
    horizon: Horizon, policy: str, *, crew_days: FloatArray, cents: FloatArray, crews: FloatArray
) -> Trajectory:
    """Follow a simple habit year by year with given crews and money.

    Trees are visited in the policy's order until the minutes of every crew
    that could work them are used up. Crew-days are those given, or fewer or
    more of the same mix, as many as the money pays together with the direct
    costs of the visits, and no more than the crews have. The fixed rotation
    takes the wards in turn, every tree whose crown has rested and that has
    work, and goes on next year where it stopped.

    Parameters
    ----------
    horizon : Horizon
    policy : str
        One of ``POLICIES``.
    crew_days : (years, kinds) float64
        Paid crew-days, such as those of ``HorizonPlan.trajectory``.
    cents : (years,) float64
        Money for crew-days and direct costs together; may be infinite.
    crews : (years, kinds) float64
        Hired crews.

    Returns
    -------
    Trajectory
    """
    order = POLICIES[policy]
    return follow(
        horizon,
        lambda _, candidates: order(candidates),
        crew_days=crew_days,
        cents=cents,
        crews=crews,
    )


def follow(
    horizon: Horizon,
    rank: Callable[[int, Candidates], FloatArray],
    *,
    crew_days: FloatArray,
    cents: FloatArray,
    crews: FloatArray,
) -> Trajectory:
    """Visit trees year by year in an order, as far as crews and money reach.

    Parameters
    ----------
    horizon : Horizon
    rank : callable
        Of a year (0, 1, ...) and its candidates: their order, lowest first.
    crew_days, cents, crews
        As for :func:`simulate_policy`.

    Returns
    -------
    Trajectory
    """
    kinds = horizon.stock.crew_kinds
    walk, turn = Walk(horizon, years=len(cents)), 0
    used_days = np.zeros_like(crew_days)
    for year in range(len(cents)):
        candidates = _first(horizon) if year == 0 else _later(horizon, walk.stand, turn)
        order = _order(rank(year, candidates), candidates)
        most = crews[year] * np.array([kind.days for kind in kinds])
        share, used_days[year] = _afford(
            horizon, candidates, order, crew_days[year], most, cents[year], year
        )
        turn = _next_turn(candidates, share)
        if year == 0:
            walk.first(share)
        else:
            walk.step(share.reshape(len(walk.stand), candidates.wards, SKILL_COUNT))
    return trajectory_of(horizon, walk.use(), used_days, crews)


def trajectory_of(
    horizon: Horizon, use: Use, crew_days: FloatArray, crews: FloatArray
) -> Trajectory:
    """Add up the use of all blocks by ward.

    Parameters
    ----------
    horizon : Horizon
    use : Use
        One course per block, in the order of the blocks.
    crew_days, crews : (years, kinds) float64

    Returns
    -------
    Trajectory
    """
    wards, years = horizon.stock.wards, len(crew_days)
    by_ward = use.measures[:, :years].reshape(-1, len(wards), years, len(MEASURES)).sum(axis=0)
    day_cents = np.array([kind.day_cost_cents for kind in horizon.stock.crew_kinds])
    direct = by_ward[:, :, MEASURE["direct_cents"]].sum(axis=0)
    return Trajectory(
        wards=wards,
        measures={name: by_ward[:, :, place].T for name, place in MEASURE.items()},
        crews=crews,
        crew_days=crew_days,
        cents=crew_days @ day_cents.astype(np.float64) + direct,
    )


def _first(horizon: Horizon) -> Candidates:
    stock, effects = horizon.stock, horizon.first_year
    cells, space = stock.cells, stock.states
    return Candidates(
        ward=cells.ward,
        skill=cells.skill,
        age_class=space.age_of_size[np.unravel_index(cells.state, space.shape)[1]],
        worth=cells.worth,
        minutes=effects.minutes[:, 0] + stock.overhead[cells.ward],
        cents=effects.cents[:, 0],
        trees=cells.trees * cells.open,
        wards=len(stock.wards),
        turn=0,
    )


def _later(horizon: Horizon, stand: FloatArray, turn: int) -> Candidates:
    stock, effects, space = horizon.stock, horizon.later, horizon.stock.states
    shape = (*stand.shape, SKILL_COUNT)
    state, ward, skill = (axis.ravel() for axis in np.indices(shape))
    there = (stand * effects.open[:, None])[:, :, None] * effects.skill_share[:, None, :]
    minutes = effects.minutes[:, None, :] + stock.overhead[:, None]
    return Candidates(
        ward=ward,
        skill=skill,
        age_class=space.age_of_size[np.unravel_index(state, space.shape)[1]],
        worth=effects.waiting[MEASURE["worth_undone"]][state],
        minutes=np.broadcast_to(minutes, shape).ravel(),
        cents=effects.cents[state, skill],
        trees=there.ravel(),
        wards=len(stock.wards),
        turn=turn,
    )


def _order(rank: FloatArray, candidates: Candidates) -> IntArray:
    """Return the entries with trees worth a visit, in the order of their rank."""
    some = np.flatnonzero((candidates.trees > 0) & (candidates.worth > 0))
    return np.asarray(some[np.argsort(rank[some], kind="stable")], dtype=np.int64)


def _afford(
    horizon: Horizon,
    candidates: Candidates,
    order: IntArray,
    days: FloatArray,
    most: FloatArray,
    cents: float,
    year: int,
) -> tuple[FloatArray, FloatArray]:
    """Return the shares to visit and the crew-days, as many of a mix as the money allows."""
    kinds = horizon.stock.crew_kinds
    minutes = np.array([kind.minutes_per_day for kind in kinds])
    minutes = minutes * ((1 - horizon.chances.storm_days) if year else 1.0)
    day_cents = np.array([kind.day_cost_cents for kind in kinds], dtype=np.float64)
    skilled = has_skill(kinds)
    lasting = candidates.trees * candidates.cents

    def fill(factor: float) -> tuple[FloatArray, FloatArray, float]:
        worked = np.minimum(days * factor, most)
        share = fill_in_order(candidates, order, worked * minutes, skilled)
        return share, worked, float(worked @ day_cents + share @ lasting)

    low, high = 0.0, 4.0
    best = fill(high)
    if best[2] <= cents:
        return best[0], best[1]
    best = fill(low)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        tried = fill(middle)
        if tried[2] <= cents:
            low, best = middle, tried
        else:
            high = middle
    return best[0], best[1]


def fill_in_order(
    candidates: Candidates, order: IntArray, minutes: FloatArray, skilled: BoolArray
) -> FloatArray:
    """Visit in order until no crew that could work has minutes left.

    Minutes can be given to crews whenever, for every set of skills, what the
    visits ask for does not exceed the minutes of all crews that have one of
    them (Hall's condition). A set that reaches this limit is used up; visits
    that need other skills go on.

    Parameters
    ----------
    candidates : Candidates
    order : (m,) int64
        Entries in the order of visits.
    minutes : (kinds,) float64
        Of the crews of each kind.
    skilled : (skills, kinds) bool

    Returns
    -------
    (n,) float64
        Share of each entry that is visited.
    """
    share = np.zeros(len(candidates.trees))
    sets, room = _limiting_sets(minutes, skilled)
    asks = candidates.trees * candidates.minutes
    waiting = order
    while len(waiting):
        demand = asks[waiting] * sets[:, candidates.skill[waiting]]
        running = np.cumsum(demand, axis=1)
        over = (running > room[:, None] + 1e-9).any(axis=0)
        whole = int(np.argmax(over)) if over.any() else len(waiting)
        share[waiting[:whole]] = 1.0
        if whole == len(waiting):
            break
        room = room - (running[:, whole - 1] if whole else 0.0)
        asked = demand[:, whole]
        part = float(np.min(room[asked > 0] / asked[asked > 0]))
        share[waiting[whole]] = np.clip(part, 0.0, 1.0)
        room = np.maximum(room - part * asked, 0.0)
        used_up = sets[room <= 1e-6 * (1 + minutes.sum())].any(axis=0)
        waiting = waiting[whole + 1 :]
        waiting = waiting[~used_up[candidates.skill[waiting]]]
    return share


def _limiting_sets(minutes: FloatArray, skilled: BoolArray) -> tuple[BoolArray, FloatArray]:
    """Return the largest set of skills for each set of crews that serve it, and its minutes."""
    largest: dict[tuple[bool, ...], BoolArray] = {}
    for size in range(1, SKILL_COUNT + 1):
        for members in combinations(range(SKILL_COUNT), size):
            chosen = np.isin(np.arange(SKILL_COUNT), members)
            crews = tuple(map(bool, np.any(skilled[chosen], axis=0)))
            largest[crews] = largest.get(crews, chosen) | chosen
    room = np.array([float(minutes[np.array(crews)].sum()) for crews in largest])
    return np.stack(list(largest.values())), room


def _next_turn(candidates: Candidates, share: FloatArray) -> int:
    """Return the first ward of the rotation that was not finished."""
    wards, worth_it = candidates.wards, candidates.trees * (candidates.worth > 0)
    all_visits = np.bincount(candidates.ward, weights=worth_it, minlength=wards)
    done = np.bincount(candidates.ward, weights=worth_it * share, minlength=wards)
    order = (candidates.turn + np.arange(wards)) % wards
    unfinished = order[done[order] < FINISHED * all_visits[order]]
    return int(unfinished[0]) if len(unfinished) else (candidates.turn + 1) % wards
