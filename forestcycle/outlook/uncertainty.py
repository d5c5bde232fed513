"""How far the years ahead may differ from what is expected: seeded draws, and intervals.

A draw is one set of chances for the whole horizon. In each, the crews and the
money are those of the expected course; the visits follow the values that the
expected course puts on them, since nobody knows the draw beforehand, as far as
crew minutes and money reach.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from math import log
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import norm

from forestcycle.errors import Fault, SettingsError
from forestcycle.outlook.answers import BEST
from forestcycle.outlook.chances import NAMES, SHARES, Chances, load_chances, rows_twice
from forestcycle.outlook.horizon import Horizon, look_ahead
from forestcycle.outlook.policies import Candidates, follow
from forestcycle.outlook.respond import gains_backwards
from forestcycle.outlook.solve import HorizonPlan
from forestcycle.outlook.states import FloatArray
from forestcycle.outlook.stock import Stock
from forestcycle.outlook.trajectory import MEASURES, Trajectory
from forestcycle.parallel import Executor, KeptResults, Task, gather
from forestcycle.parallel.kept import content_key, value_digest
from forestcycle.practice.tables import Column, load_table
from forestcycle.progress import Progress, silent

SPREAD_COLUMNS = {
    "chance": Column(words=tuple(NAMES.values())),
    "distribution": Column(words=("lognormal", "uniform")),
    "upper": Column("number", least=0),
}
UPPER_QUANTILE = 0.95
LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95
MOST_TRIES = 100
ROUNDING = 1e-9
SHARES_OF_TREES = {
    "on_recall_share": ("on_recall", "trees"),
    "young_on_recall_share": ("young_on_recall", "young"),
}
FIGURES = (*MEASURES, *SHARES_OF_TREES, "crew_days", "cents", "past_correcting_so_far")


class Spread(NamedTuple):
    """How one chance varies.

    Attributes
    ----------
    distribution : str
        ``lognormal`` around the value of ``outlook.csv`` as its median, or
        ``uniform`` from that value upwards.
    upper : float
        Of a lognormal, the factor on the median that one draw in 20 passes; of
        a uniform one, the largest value.
    """

    distribution: str
    upper: float


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
    seed : int
    """

    stock: Stock
    expected: Chances
    spreads: dict[str, Spread]
    plans: tuple["PlannedCourse", ...]
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


def load_spreads(*, folder: Path | None = None) -> dict[str, Spread]:
    """Load ``uncertainty.csv``; a chance without a row does not vary.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    dict of str to Spread
        By the field of ``Chances``.

    Raises
    ------
    SettingsError
        Where the table does not fit, or a draw could not follow it: a share over 1, a largest
        value below that of ``outlook.csv``, a factor below 1.
    """
    table = load_table("uncertainty", SPREAD_COLUMNS, folder=folder)
    field_of = {name: field for field, name in NAMES.items()}
    spreads = {
        field_of[str(row.chance)]: Spread(str(row.distribution), float(str(row.upper)))
        for row in table.itertuples()
    }
    faults = rows_twice(table["chance"], "uncertainty.csv")
    faults += spread_faults(load_chances(folder=folder), spreads)
    if faults:
        raise SettingsError(faults)
    return spreads


def spread_faults(expected: Chances, spreads: dict[str, Spread]) -> list[Fault]:
    """Return a fault for each spread that no draw can follow around what is expected.

    Parameters
    ----------
    expected : Chances
    spreads : dict of str to Spread

    Returns
    -------
    list of Fault
    """
    refused = {
        field: _refusal(field, getattr(expected, field), spread)
        for field, spread in spreads.items()
    }
    return [
        Fault(f"{NAMES[field]}: upper = {spreads[field].upper:g}", "uncertainty.csv", remedy)
        for field, remedy in refused.items()
        if remedy
    ]


def _refusal(field: str, value: float, spread: Spread) -> str:
    """Say what to give instead of a spread that no draw can follow, else nothing."""
    factor = spread.distribution == "lognormal"
    least = 1.0 if factor else value
    if spread.upper < least:
        return "give 1 or more" if factor else f"give {value:g}, as in outlook.csv, or more"
    most = 1 / value if factor and value > 0 else 1.0
    if field in SHARES and spread.upper > most + ROUNDING and (value > 0 or not factor):
        return f"give at most {most:g}: a share is no more than 1"
    return ""


def draw_chances(
    expected: Chances, spreads: dict[str, Spread], random: np.random.Generator
) -> Chances:
    """Draw one set of chances; shares are held at 1.

    Parameters
    ----------
    expected : Chances
    spreads : dict of str to Spread
    random : Generator

    Returns
    -------
    Chances
    """
    drawn: dict[str, float] = {}
    for field in fields(Chances):
        unit = random.random()
        if field.name not in spreads:
            continue
        value = _at(getattr(expected, field.name), spreads[field.name], unit)
        drawn[field.name] = min(value, 1.0) if field.name in SHARES else value
    return replace(expected, **drawn)


def _at(centre: float, spread: Spread, unit: float) -> float:
    """Value below which a share ``unit`` of the draws lies."""
    if spread.distribution == "uniform":
        return centre + unit * max(spread.upper - centre, 0.0)
    sigma = log(spread.upper) / float(norm.ppf(UPPER_QUANTILE))
    return centre * float(np.exp(sigma * norm.ppf(unit)))


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


def play(futures: Futures, draw: int) -> list[list[list[float]]]:
    """Play one draw through for every budget.

    Parameters
    ----------
    futures : Futures
    draw : int
        Its number, which with the seed decides it.

    Returns
    -------
    list of (years, figures) lists
        Per budget, in the order of ``FIGURES``; JSON values, so that they can be kept.
    """
    random = np.random.default_rng([futures.seed, draw])
    horizon = _possible_horizon(futures, random)
    return [yearly_figures(follow_course(horizon, course)).tolist() for course in futures.plans]


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
    """Return the city's figures of every year, shape (years, figures), as in ``FIGURES``."""
    columns = [found.city(name) for name in MEASURES]
    columns += [found.share(part, whole) for part, whole in SHARES_OF_TREES.values()]
    columns += [found.crew_days.sum(axis=1), found.cents]
    columns.append(np.cumsum(found.city("past_correcting")))
    return np.stack(columns, axis=1)


def interval_table(
    horizon: Horizon,
    plans: Sequence[HorizonPlan],
    executor: Executor,
    *,
    draws: int,
    seed: int,
    first_year: int,
    spreads: dict[str, Spread],
    kept: KeptResults | None = None,
    progress: Progress = silent,
) -> tuple[pd.DataFrame, int]:
    """Play draws and return the interval of every yearly figure.

    Parameters
    ----------
    horizon : Horizon
        With the expected chances.
    plans : sequence of HorizonPlan
    executor : Executor
    draws : int
    seed : int
        The same seed gives the same table, whatever the executor.
    first_year : int
        Calendar year of the first one.
    spreads : dict of str to Spread
    kept : KeptResults, optional
        Where each draw is looked up first and kept as soon as it is played.
    progress : Progress, optional

    Returns
    -------
    table : DataFrame
        ``budget choice year figure expected low middle high``: ``expected`` is
        the course without draws, 90 % of the draws lie from ``low`` to ``high``.
    played : int
        Draws that were played: fewer than asked for after an interruption.
    """
    courses = tuple(planned_course(horizon, plan) for plan in plans)
    futures = Futures(horizon.stock, horizon.chances, spreads, courses, seed)
    tasks = [Task(f"draw {draw + 1}", draw) for draw in range(draws)]
    shared = executor.share(futures)
    digest = "" if kept is None else value_digest(futures)
    done = gather(
        executor,
        play,
        tasks,
        shared,
        kept=kept,
        keys=[content_key(digest, draw) for draw in range(draws)] if kept is not None else [],
        stage="drawing futures",
        progress=progress,
    )
    parts = []
    for place, plan in enumerate(plans):
        played = [np.array(figures[place]) for figures in done.values.values()]
        expected = yearly_figures(plan.trajectory)
        parts.append(_intervals(plan.budget.name, first_year, expected, played))
    return pd.concat(parts, ignore_index=True), len(done.values)


def _intervals(
    budget: str, first_year: int, expected: FloatArray, played: list[FloatArray]
) -> pd.DataFrame:
    shape = expected.shape
    low, middle, high = (
        np.quantile(np.stack(played), (LOW, MIDDLE, HIGH), axis=0)
        if played
        else np.full((3, *shape), np.nan)
    )
    year, figure = (axis.ravel() for axis in np.indices(shape))
    return pd.DataFrame(
        {
            "budget": budget,
            "choice": BEST,
            "year": first_year + year,
            "figure": np.array(FIGURES)[figure],
            "expected": expected.ravel(),
            "low": low.ravel(),
            "middle": middle.ravel(),
            "high": high.ravel(),
        }
    )
