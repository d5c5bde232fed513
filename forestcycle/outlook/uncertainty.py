"""How far the years ahead may differ from what is expected: seeded draws.

A draw is one set of chances for the whole horizon. In each, the crews and the
money are those of the expected course; the visits follow the values that the
expected course puts on them, since nobody knows the draw beforehand, as far as
crew minutes and money reach.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from forestcycle.errors import SettingsError
from forestcycle.outlook.answers import comes_to
from forestcycle.outlook.chances import Chances
from forestcycle.outlook.horizon import Horizon, look_ahead
from forestcycle.outlook.policies import Candidates, follow
from forestcycle.outlook.respond import gains_backwards
from forestcycle.outlook.solve import HorizonPlan
from forestcycle.outlook.spreads import Spread, draw_chances
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.stock import Stock
from forestcycle.outlook.target import Target
from forestcycle.outlook.trajectory import MEASURES, Trajectory
from forestcycle.parallel import Executor, KeptResults, Task, gather
from forestcycle.parallel.kept import content_key, value_digest
from forestcycle.progress import Progress, silent

MOST_TRIES = 100
SHARES_OF_TREES = {
    "on_recall_share": ("on_recall", "trees"),
    "young_on_recall_share": ("young_on_recall", "young"),
}
FIGURES = (*MEASURES, *SHARES_OF_TREES, "crew_days", "cents", "past_correcting_so_far")


@dataclass(frozen=True)
class Futures:
    """What all draws of one outlook have in common.

    Attributes
    ----------
    stock : Stock
    expected : Chances
    spreads : dict of str to Spread
        By the field of ``Chances``.
    plans : tuple of PlannedCourse
    targets : tuple of Target
    seed : int
    """

    stock: Stock
    expected: Chances
    spreads: dict[str, Spread]
    plans: tuple["PlannedCourse", ...]
    targets: tuple[Target, ...]
    seed: int


@dataclass(frozen=True)
class PlannedCourse:
    """What a budget's expected course settles beforehand.

    Attributes
    ----------
    budget : str
    value : list of float64 array
        Year by year, what a crew minute spent on a visit is worth after all
        that it costs, in the order of :class:`Candidates`.
    crew_days, crews : (years, kinds) float64
    cents : (years,) float64
        Money of each year, infinite without a limit.
    """

    budget: str
    value: list[FloatArray]
    crew_days: FloatArray
    crews: FloatArray
    cents: FloatArray


def planned_course(horizon: Horizon, plan: HorizonPlan) -> PlannedCourse:
    """Take from a plan what is settled before any draw.

    Parameters
    ----------
    horizon : Horizon
        With the expected chances.
    plan : HorizonPlan

    Returns
    -------
    PlannedCourse
    """
    found, stock = plan.trajectory, horizon.stock
    value: list[FloatArray] = [np.empty(0)] * found.years
    for year, _, gain in gains_backwards(horizon, plan.prices):
        if 0 < year < found.years:
            minutes = horizon.later.minutes[:, None, :] + stock.overhead[:, None]
            value[year] = (gain / minutes).ravel().astype(np.float32)
        elif year == 0:
            at_tree = horizon.first_year.minutes[:, 0] + stock.overhead[stock.cells.ward]
            value[0] = gain / at_tree
    return PlannedCourse(
        budget=plan.budget.name,
        value=value,
        crew_days=found.crew_days,
        crews=found.crews,
        cents=plan.budget.of_years(found.years),
    )


def follow_course(horizon: Horizon, course: PlannedCourse) -> Trajectory:
    """Follow a planned course under the chances of a horizon.

    Parameters
    ----------
    horizon : Horizon
        Under drawn or expected chances.
    course : PlannedCourse

    Returns
    -------
    Trajectory
    """

    def rank(year: int, candidates: Candidates) -> FloatArray:
        del candidates  # they stand in the order of the values
        return -course.value[year]

    return follow(horizon, rank, crew_days=course.crew_days, cents=course.cents, crews=course.crews)


class Played(TypedDict):
    """What one draw comes to under one budget; JSON values, so that they can be kept.

    Attributes
    ----------
    years : (years, figures) list
        In the order of ``FIGURES``.
    wards : (shares, years, wards) list
        In the order of ``SHARES_OF_TREES``.
    come_to : list of float
        As from :func:`forestcycle.outlook.answers.comes_to`.
    met : bool
        Whether all targets are reached and kept.
    """

    years: list[list[float]]
    wards: list[list[list[float]]]
    come_to: list[float]
    met: bool


def play(futures: Futures, draw: int) -> list[Played]:
    """Play one draw through for every budget.

    Parameters
    ----------
    futures : Futures
    draw : int
        Its number, which with the seed decides it.

    Returns
    -------
    list of Played
        Per budget.
    """
    random = np.random.default_rng([futures.seed, draw])
    horizon = _possible_horizon(futures, random)
    return [_played(follow_course(horizon, course), futures.targets) for course in futures.plans]


def _played(found: Trajectory, targets: tuple[Target, ...]) -> Played:
    return Played(
        years=yearly_figures(found).tolist(),
        wards=ward_shares(found).tolist(),
        come_to=[float(figure) for figure in comes_to(found).values()],
        met=all(target.met(found) for target in targets),
    )


def _possible_horizon(futures: Futures, random: np.random.Generator) -> Horizon:
    """Draw until no rate passes 100 % a year, which cuts off the far tail."""
    for _ in range(MOST_TRIES - 1):
        chances = draw_chances(futures.expected, futures.spreads, random)
        try:
            return look_ahead(futures.stock, chances)
        except SettingsError:
            continue
    return look_ahead(futures.stock, draw_chances(futures.expected, futures.spreads, random))


def yearly_figures(found: Trajectory) -> FloatArray:
    """Return the city's figures of every year, shape (years, figures), as in ``FIGURES``.

    Parameters
    ----------
    found : Trajectory

    Returns
    -------
    (years, figures) float64
    """
    columns = [found.city(name) for name in MEASURES]
    columns += [found.share(part, whole) for part, whole in SHARES_OF_TREES.values()]
    columns += [found.crew_days.sum(axis=1), found.cents]
    columns.append(np.cumsum(found.city("past_correcting")))
    return np.stack(columns, axis=1)


def ward_shares(found: Trajectory) -> FloatArray:
    """Return shares of every year and ward, shape (shares, years, wards), 1 without a tree.

    Parameters
    ----------
    found : Trajectory

    Returns
    -------
    (shares, years, wards) float64
    """
    return np.stack([found.ward_share(part, whole) for part, whole in SHARES_OF_TREES.values()])


def play_draws(
    horizon: Horizon,
    plans: Sequence[HorizonPlan],
    executor: Executor,
    *,
    draws: int,
    seed: int,
    spreads: dict[str, Spread],
    targets: Sequence[Target] = (),
    kept: KeptResults | None = None,
    progress: Progress = silent,
) -> list[list[Played]]:
    """Play draws of every plan.

    Parameters
    ----------
    horizon : Horizon
        With the expected chances.
    plans : sequence of HorizonPlan
    executor : Executor
    draws : int
    seed : int
        The same seed gives the same draws, whatever the executor.
    spreads : dict of str to Spread
    targets : sequence of Target
        Noted for each draw whether they are met.
    kept : KeptResults, optional
        Where each draw is looked up first and kept as soon as it is played.
    progress : Progress, optional

    Returns
    -------
    list of list of Played
        Per draw and plan; fewer draws than asked for after an interruption.
    """
    courses = tuple(planned_course(horizon, plan) for plan in plans)
    futures = Futures(horizon.stock, horizon.chances, spreads, courses, tuple(targets), seed)
    digest = "" if kept is None else value_digest(futures)
    done = gather(
        executor,
        play,
        [Task(f"draw {draw + 1}", draw) for draw in range(draws)],
        executor.share(futures),
        kept=kept,
        keys=[content_key(digest, draw) for draw in range(draws)] if kept is not None else [],
        stage="drawing futures",
        progress=progress,
    )
    return list(done.values.values())
