"""Repack the crew-days that a change concerns, and leave all others as they are."""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule.choose import Column, Effort, choose, columns_of
from forestcycle.schedule.cluster import ClusterSearch, Route, with_bonus
from forestcycle.schedule.draft import Draft
from forestcycle.schedule.limits import affordable, trim
from forestcycle.schedule.mandatory import fits
from forestcycle.schedule.problem import FloatArray, IntArray, Problem
from forestcycle.schedule.revise_order import behind_locks, in_old_order
from forestcycle.schedule.revise_standing import Standing
from forestcycle.schedule.revise_worth import Judge
from forestcycle.schedule.territory import (
    Territory,
    ground_of,
    group_crew_days,
    may_visit,
    territories,
)
from forestcycle.schedule.timetable import route_minutes

DAYS_TOGETHER = 5
STEPS_PER_DAY = 2_000
STEPS_AT_ONCE = 250
ROUNDS_OF_THE_TIME = 2
LEAST_SPAN = 0.1
HOT, COLD = 0.15, 0.01
COLUMNS_PER_DAY = 10
CHOICE_WORK_OF_A_ROUND = 0.5
CHOICE_SHARE = 0.2
LAST_SHARE = 0.05
"""Of the time, kept for visits that still fit at the end."""
LEAST_GAIN = 1e-7
AHEAD = 100.0


@dataclass(frozen=True)
class MoneyPrices:
    """What a cent and a ward's minute were worth in the plan in force."""

    cent: float
    fund_cent: FloatArray
    ward_minute: FloatArray


@dataclass
class Limits:
    """How long to look: seconds of the clock, or rounds of work.

    Attributes
    ----------
    seconds : float or None
    rounds : int
        The search ends after so many rounds in any case.
    seed, workers : int
    progress : Progress
    interrupted : bool
        The user has stopped the search.
    """

    seconds: float | None
    rounds: int
    seed: int = 0
    workers: int = 2
    progress: Progress = silent
    interrupted: bool = False
    began: float = field(default_factory=time.monotonic)

    def start(self) -> None:
        """Begin to count the seconds."""
        self.began = time.monotonic()

    @property
    def over(self) -> bool:
        """Whether the time for the rounds is used up."""
        if self.seconds is None:
            return self.interrupted
        return self.interrupted or self.left <= 0.0

    @property
    def left(self) -> float:
        """Seconds until the rounds end; infinite without a clock."""
        if self.seconds is None:
            return np.inf
        rounds = self.seconds * (1 - CHOICE_SHARE - LAST_SHARE)
        return rounds - (time.monotonic() - self.began)

    @property
    def left_at_last(self) -> float:
        """Seconds for what comes after the search, however long that took; infinite without."""
        if self.seconds is None:
            return np.inf
        least = self.seconds * LAST_SHARE
        return max(least, self.seconds - (time.monotonic() - self.began))


@dataclass(frozen=True)
class Scene:
    """What a search needs to know: the problem, what was promised, and what a change is worth.

    Attributes
    ----------
    problem : Problem
        Narrowed.
    standing : Standing
    home : (n,) int64
    judge : Judge
    money : MoneyPrices
    asking : (k,) int64
        Trees that lost their place or for which something has changed.
    """

    problem: Problem
    standing: Standing
    home: IntArray
    judge: Judge
    money: MoneyPrices
    asking: IntArray


def repack(
    scene: Scene, start: Sequence[IntArray], days: IntArray, limits: Limits
) -> tuple[list[IntArray], int]:
    """Improve the routes of some crew-days.

    Parameters
    ----------
    scene : Scene
    start : sequence of (s,) int64
        Routes of all crew-days, within all limits.
    days : (d,) int64
        Crew-days that may change.
    limits : Limits

    Returns
    -------
    routes : list of (s,) int64
        Within all limits, and never of lower rank than ``start``.
    rounds : int
        That were run.
    """
    random = np.random.default_rng(limits.seed)
    draft = _draft(scene.problem, start)
    best, columns, done = list(start), dict[Column, float](), 0
    try:
        while done < limits.rounds and not (done and limits.over):
            _run_round(scene, draft, days, columns, random, limits, priced=done % 2 == 1)
            done += 1
            within = trim(scene.problem, draft.routes)
            best = max(best, within, key=scene.judge.standing_of)
            value = scene.judge.value(best)
            limits.progress(Step("repacking", done, limits.rounds, value))
        best = max(best, _chosen(scene, best, start, columns, limits), key=scene.judge.standing_of)
    except KeyboardInterrupt:
        limits.interrupted = True
    tidied = _tidied(scene, best, start)
    return max(list(start), tidied, key=scene.judge.standing_of), done


def _draft(problem: Problem, routes: Sequence[IntArray]) -> Draft:
    draft = Draft(problem)
    draft.lay({day: route for day, route in enumerate(routes) if len(route)})
    return draft


def _run_round(
    scene: Scene,
    draft: Draft,
    days: IntArray,
    columns: dict[Column, float],
    random: np.random.Generator,
    limits: Limits,
    *,
    priced: bool,
) -> None:
    """Pack every affected crew-day once, beside other neighbours than last time.

    Whether money or minutes are short around a change is not known beforehand:
    every other round asks the price of money that the plan in force had.
    """
    problem = scene.problem
    net, cent = _net_worth(scene, priced=priced)
    day_price = cent * problem.day_cost_cents.astype(np.float64)
    groups = [days[g] for g in group_crew_days(draft.centres[days], DAYS_TOGETHER, random)]
    areas = territories(problem, groups, draft.day_of_tree, draft.centres, net)
    areas = _most_asked_first(areas, scene.asking[draft.day_of_tree[scene.asking] < 0])
    span = limits.left * limits.workers / len(areas) / ROUNDS_OF_THE_TIME
    seeds = random.integers(0, 2**31, len(areas))
    with ThreadPoolExecutor(limits.workers) as pool:
        jobs = [
            pool.submit(_pack, scene, area, draft.routes, net, day_price, int(seed), limits, span)
            for area, seed in zip(areas, seeds, strict=True)
        ]
        try:
            results = [job.result() for job in jobs]
        except KeyboardInterrupt:
            limits.interrupted = True
            raise
    for routes, found in results:
        columns |= dict.fromkeys(found, 0.0)
        if routes:
            draft.lay(routes)


def _most_asked_first(areas: Sequence[Territory], trees: IntArray) -> list[Territory]:
    """Order territories by the trees there that still ask: time may not suffice for all."""
    return sorted(areas, key=lambda area: -int(np.isin(area.trees, trees).sum()))


def _net_worth(scene: Scene, *, priced: bool) -> tuple[FloatArray, float]:
    """Worth less the price of money, mandatory trees first; and the price of a cent."""
    problem, money = scene.problem, scene.money
    cent = money.cent if priced else 0.0
    per_cent = cent + (np.append(money.fund_cent, 0.0)[problem.fund] if priced else 0.0)
    owed = np.append(money.ward_minute, 0.0)[problem.ward]
    owed = owed - float(money.ward_minute @ problem.ward_least_share)
    net = problem.worth - per_cent * problem.cost_cents + owed * problem.service_minutes
    net[~affordable(problem) & ~scene.standing.promised] = 0.0
    ahead = AHEAD * (problem.worth.max(initial=0.0) + 1.0)
    return np.where(problem.mandatory, np.maximum(net, 0.0) + ahead, net), cent


def _pack(
    scene: Scene,
    area: Territory,
    routes: Sequence[IntArray],
    net: FloatArray,
    day_price: FloatArray,
    seed: int,
    limits: Limits,
    span: float,
) -> tuple[dict[int, IntArray], list[Column]]:
    """Search one territory; routes only where they gain more than their moves cost."""
    if not len(area.trees) or limits.over:
        return {}, []
    bonus = scene.judge.bonus(area.crew_days[:, None], area.trees)
    ground = ground_of(scene.problem, area, net[area.trees], day_price[area.crew_days])
    ground = with_bonus(ground, bonus)
    position = {int(tree): place for place, tree in enumerate(area.trees)}
    start = [
        Route(r, tuple(position[int(tree)] for tree in routes[day]))
        for r, day in enumerate(area.crew_days)
    ]
    search = ClusterSearch(ground, seed=seed, start=start)
    _cool_down(search, STEPS_PER_DAY * len(area.crew_days), limits, max(span, LEAST_SPAN))
    found = {
        int(area.crew_days[route.crew_day]): area.trees[list(route.stops)]
        for route in search.routes
    }
    found = {
        day: behind_locks(scene.problem, scene.standing, scene.home, day, route)
        for day, route in found.items()
    }

    def gain(chosen: dict[int, IntArray]) -> float:
        return sum(
            float(net[trees].sum() + scene.judge.bonus(np.array(day), trees).sum())
            - (day_price[day] if len(trees) else 0.0)
            for day, trees in chosen.items()
        )

    before = {int(day): routes[day] for day in area.crew_days}
    columns = _columns(scene, search, area, net, bonus)
    return (found if gain(found) > gain(before) + LEAST_GAIN else {}), columns


def _cool_down(search: ClusterSearch, steps: int, limits: Limits, span: float) -> None:
    """Search so many steps, or fewer where the seconds for them end before."""
    began, share = time.monotonic(), 0.0
    done = 0
    while share < 1.0 and not (done and limits.over):
        heat = HOT * (COLD / HOT) ** share
        search.run(STEPS_AT_ONCE, hot=heat, cold=heat)
        done += STEPS_AT_ONCE
        share = max(done / steps, (time.monotonic() - began) / span)


def _columns(
    scene: Scene, search: ClusterSearch, area: Territory, net: FloatArray, bonus: FloatArray
) -> list[Column]:
    """Best distinct routes of each crew-day."""
    by_day: dict[int, dict[tuple[int, ...], float]] = {}
    for route in (*search.routes, *search.pool):
        stops = list(route.stops)
        if stops:
            value = float(net[area.trees[stops]].sum() + bonus[route.crew_day, stops].sum())
            by_day.setdefault(route.crew_day, {})[route.stops] = value
    kept = []
    for r, routes in by_day.items():
        day = int(area.crew_days[r])
        for key in sorted(routes, key=lambda key: -routes[key])[:COLUMNS_PER_DAY]:
            trees = area.trees[list(key)]
            trees = behind_locks(scene.problem, scene.standing, scene.home, day, trees)
            kept.append(Column(day, tuple(trees.tolist())))
    return kept


def _chosen(
    scene: Scene,
    best: Sequence[IntArray],
    start: Sequence[IntArray],
    columns: dict[Column, float],
    limits: Limits,
) -> list[IntArray]:
    """Let CP-SAT choose among all routes that came up."""
    current = columns_of(best)
    offered = list(dict.fromkeys((*current, *columns_of(start), *columns)))
    lengths = [len(column.trees) for column in offered]
    trees = np.array([tree for column in offered for tree in column.trees], dtype=np.int64)
    crew_day = np.repeat([column.crew_day for column in offered], lengths).astype(np.int64)
    seconds = None if limits.seconds is None else max(1.0, CHOICE_SHARE * limits.seconds)
    work = CHOICE_WORK_OF_A_ROUND * limits.rounds
    chosen = choose(
        scene.problem,
        offered,
        current,
        Effort(seconds, work, limits.workers, limits.seed),
        bonus=scene.judge.bonus(crew_day, trees),
    )
    routes = [np.empty(0, dtype=np.int64) for _ in best]
    for column in chosen or current:
        routes[column.crew_day] = np.array(column.trees, dtype=np.int64)
    return routes


def _tidied(scene: Scene, routes: Sequence[IntArray], start: Sequence[IntArray]) -> list[IntArray]:
    """Send visits home that fit there after all, and keep the old order within each day."""
    homes = scene.home
    tidy = [
        route
        if np.array_equal(route, start[day])
        else in_old_order(scene.problem, scene.standing, homes, day, route)
        for day, route in enumerate(routes)
    ]
    crew_day, tree = np.repeat(np.arange(len(tidy)), [len(r) for r in tidy]), np.concatenate(tidy)
    at = np.full(scene.problem.trees, -1, dtype=np.int64)
    at[tree] = crew_day
    away = np.flatnonzero(scene.standing.promised & (homes >= 0) & (at != homes) & (at >= 0))
    for visit in away.tolist():
        home, now = int(homes[visit]), int(at[visit])
        if not has_time(scene.problem, home, tidy[home], visit):
            continue
        returned = np.append(tidy[home], visit)
        longer = in_old_order(scene.problem, scene.standing, homes, home, returned)
        if len(longer) == len(tidy[home]) + 1 and fits(scene.problem, home, longer):
            tidy[now] = tidy[now][tidy[now] != visit]
            tidy[home] = longer
    return tidy


def has_time(problem: Problem, day: int, route: IntArray, visit: int) -> bool:
    """Whether a crew-day that is used anyway may take a visit, were it on the way.

    Parameters
    ----------
    problem : Problem
    day : int
        Crew-day.
    route : (s,) int64
        Its trees in order.
    visit : int
        Tree, position in the problem's arrays.

    Returns
    -------
    bool
    """
    if not len(route) or not may_visit(problem, np.array([day]), np.array([visit]))[0, 0]:
        return False
    minutes = route_minutes(problem, day, route)
    return bool(minutes + problem.service_minutes[visit] <= problem.capacity_minutes[day])
