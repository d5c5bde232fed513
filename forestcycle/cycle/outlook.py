"""Look years ahead: what each budget buys, and what waiting costs."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.errors import Fault, SettingsError, StoreError
from forestcycle.outlook import (
    Budget,
    CrewKind,
    CrewTerms,
    Horizon,
    HorizonPlan,
    load_chances,
    look_ahead,
    simulate_policy,
    solve_horizon,
    take_stock,
)
from forestcycle.outlook.answers import BEST, Course
from forestcycle.outlook.budget_text import parse_budgets
from forestcycle.outlook.intervals import Intervals
from forestcycle.outlook.overhead import estimated_overhead, likely_visits, measured_overhead
from forestcycle.outlook.policies import POLICIES
from forestcycle.outlook.target import Target
from forestcycle.practice import Assessment
from forestcycle.practice.assessment import SKILLS
from forestcycle.practice.installed import tables_folder
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish.plan_folder import read_plan_folder
from forestcycle.schedule.calendar import crew_calendar
from forestcycle.settings import CycleSettings

LEAST_YEARS, MOST_YEARS = 1, 30
DAYS_PER_YEAR, DAYS_OFF_A_YEAR = 365, 40


@dataclass(frozen=True)
class LeastBudget:
    """The least money a year with which the best visits reach all targets.

    Attributes
    ----------
    targets : tuple of Target
    plan : HorizonPlan
        The best visits for it.
    cents_a_year : int
    known_to_cents : int
        The least one may be so much less.
    share_of_present : float
    met : dict of str to int
        By budget, this one under ``least``: draws in which all targets are reached and kept.
    """

    targets: tuple[Target, ...]
    plan: HorizonPlan
    cents_a_year: int
    known_to_cents: int
    share_of_present: float
    met: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class CityOutlook:
    """The years ahead of a city under several budgets.

    Attributes
    ----------
    city : City
    horizon : Horizon
    plans : list of HorizonPlan
        The best visits for each budget, in the order asked for.
    courses : list of Course
        Best visits and habits, budget by budget.
    overhead : dict of str to float
        Minutes of travel and parking per visit by ward, ``""`` for the city.
    overhead_from : str
        ``the plan in DIR`` or how it was estimated.
    present_cents : int or None
        The present budget of a year.
    first_year : int
    seconds : float
    intervals : Intervals or None
    draws : int
        Played for the intervals.
    cycles : DataFrame or None
        From :func:`forestcycle.outlook.interval_study.interval_study`.
    least : LeastBudget or None
        For the targets, where there are any.
    """

    city: City
    horizon: Horizon
    plans: list[HorizonPlan]
    courses: list[Course]
    overhead: Mapping[str, float]
    overhead_from: str
    present_cents: int | None
    first_year: int
    seconds: float
    intervals: Intervals | None = None
    draws: int = 0
    cycles: pd.DataFrame | None = None
    least: LeastBudget | None = None


def outlook_of(
    city: City,
    *,
    years: int,
    budgets: str,
    plan: Path | None = None,
    progress: Progress = silent,
) -> CityOutlook:
    """Work out the best visits of every year for each budget, and three habits beside them.

    Parameters
    ----------
    city : City
    years : int
        1 to 30; the first one is the plan's.
    budgets : str
        See :func:`forestcycle.outlook.budget_text.parse_budgets`.
    plan : Path, optional
        Folder of a plan of this city, whose driving is taken over.
    progress : Progress, optional

    Returns
    -------
    CityOutlook

    Raises
    ------
    SettingsError
        Where years, budgets or rates cannot be meant.
    PlanError
        Where there is no crew.
    """
    started = time.monotonic()
    settings = city.settings
    _check_years(years, settings)
    kinds = crew_kinds(settings)
    present = present_budget(settings, kinds)
    asked = parse_budgets(budgets, present_cents=present, currency=settings.city.currency)
    chances = load_chances(folder=tables_folder(settings.practice.tables, city.folder))
    assessment = assess_city(city, progress=progress)
    overhead, overhead_from = _overhead(city, assessment, kinds, plan)
    progress(Step("looking ahead"))
    stock = take_stock(city.inventory, assessment, kinds, overhead)
    horizon = look_ahead(stock, chances)
    plans = solve_all(horizon, asked, years=years, settings=settings, progress=progress)
    return CityOutlook(
        city=city,
        horizon=horizon,
        plans=plans,
        courses=[course for found in plans for course in courses_of(horizon, found, years)],
        overhead=overhead,
        overhead_from=overhead_from,
        present_cents=present,
        first_year=settings.city.year_start.year,
        seconds=time.monotonic() - started,
    )


def crew_kinds(settings: CycleSettings) -> tuple[CrewKind, ...]:
    """Return the kinds of crews of the settings; crews alike in all but depot are one kind.

    Parameters
    ----------
    settings : CycleSettings

    Returns
    -------
    tuple of CrewKind
        Named after the first crew of each.
    """
    calendar = crew_calendar(settings)
    found: dict[tuple[int, int, int, int], CrewKind] = {}
    for number, crew in enumerate(settings.crews):
        days = int(((calendar.crew == number) & ~calendar.storm_reserve).sum())
        skill = sum(1 << SKILLS.index(name) for name in {"ground", *crew.skills})
        key = (skill, days, crew.working_minutes, crew.day_cost_cents)
        now = found[key].now + 1 if key in found else 1
        name = found[key].name if key in found else crew.name
        found[key] = CrewKind(
            name, skill, now, days, float(crew.working_minutes), crew.day_cost_cents
        )
    return tuple(found.values())


def present_budget(settings: CycleSettings, kinds: tuple[CrewKind, ...]) -> int | None:
    """Return the present money of a year: the budget, else the price of all crew-days.

    Parameters
    ----------
    settings : CycleSettings
    kinds : tuple of CrewKind

    Returns
    -------
    int or None
        In cents; None without a budget and crew-days that cost.
    """
    if settings.budget.year_cents is not None:
        return settings.budget.year_cents
    return sum(kind.now * kind.days * kind.day_cost_cents for kind in kinds) or None


def solve_all(
    horizon: Horizon,
    budgets: list[Budget],
    *,
    years: int,
    settings: CycleSettings,
    progress: Progress = silent,
) -> list[HorizonPlan]:
    """Solve budget after budget, the smallest first; each starts from what the last one learned.

    Parameters
    ----------
    horizon : Horizon
    budgets : list of Budget
    years : int
        To show.
    settings : CycleSettings
    progress : Progress, optional

    Returns
    -------
    list of HorizonPlan
        In the order of ``budgets``.
    """
    rules = settings.outlook
    terms = CrewTerms(years=rules.crew_years, least_paid=rules.crew_days_paid)
    order = sorted(budgets, key=_size)
    found: dict[str, HorizonPlan] = {}
    known = None
    for number, budget in enumerate(order):
        progress(Step(f"looking ahead: {budget.name}", number + 1, len(order)))
        known = solve_horizon(
            horizon,
            budget,
            years=years,
            beyond=rules.years_beyond,
            terms=terms,
            known=known,
            progress=progress,
        )
        found[budget.name] = known
    return [found[budget.name] for budget in budgets]


def courses_of(horizon: Horizon, plan: HorizonPlan, years: int) -> list[Course]:
    """Return the best visits and the habits that have the same crews and money.

    Parameters
    ----------
    horizon : Horizon
    plan : HorizonPlan
        Of one budget.
    years : int
        To show.

    Returns
    -------
    list of Course
        The best visits first.
    """
    best = plan.trajectory
    cents = plan.budget.of_years(years)
    habits = [
        Course(
            plan.budget.name,
            policy,
            simulate_policy(
                horizon, policy, crew_days=best.crew_days, cents=cents, crews=best.crews
            ),
        )
        for policy in POLICIES
    ]
    return [Course(plan.budget.name, BEST, best), *habits]


def _check_years(years: int, settings: CycleSettings) -> None:
    faults = []
    if not LEAST_YEARS <= years <= MOST_YEARS:
        remedy = f"give {LEAST_YEARS} to {MOST_YEARS}"
        faults.append(Fault(f"{years} years cannot be looked ahead", "--years", remedy))
    span = (settings.city.year_end - settings.city.year_start).days + 1
    if abs(span - DAYS_PER_YEAR) > DAYS_OFF_A_YEAR:
        faults.append(
            Fault(
                f"the plan spans {span} days, but the outlook goes by years",
                "city.year_end",
                "let year_start and year_end lie a year apart",
            )
        )
    if faults:
        raise SettingsError(faults)


def _size(budget: Budget) -> tuple[float, float]:
    cents = float("inf") if budget.cents is None else float(sum(budget.cents) / len(budget.cents))
    return cents, float("inf") if budget.most_crews is None else float(budget.most_crews)


def _overhead(
    city: City, assessment: Assessment, kinds: tuple[CrewKind, ...], plan: Path | None
) -> tuple[dict[str, float], str]:
    if plan is not None:
        found = read_plan_folder(plan)
        if found.stops.empty:
            raise StoreError(Fault("holds no visit", str(plan), "plan the year first"))
        return measured_overhead(found.stops, found.crew_days), "measured in the year's plan"
    trees = assessment.trees
    in_time = trees["not_before"] <= np.datetime64(assessment.year_end)
    to_visit = ((trees["priority"] > 0) & in_time).to_numpy(np.bool_)
    rules, minutes = city.settings.travel, trees["minutes"].to_numpy(np.float64)
    likely = likely_visits(
        trees["priority"].to_numpy(np.float64),
        minutes + rules.parking_minutes,
        to_visit,
        _crew_minutes(city.settings, kinds),
    )
    mean = float(minutes[likely].mean()) if likely.any() else 1.0
    per_day = float(np.mean([kind.minutes_per_day for kind in kinds])) / max(mean, 1.0)
    estimate = estimated_overhead(city.inventory, likely, rules, per_day)
    return estimate, "estimated from where the trees stand; with --plan DIR it is measured"


def _crew_minutes(settings: CycleSettings, kinds: tuple[CrewKind, ...]) -> float:
    """Return the minutes of a year's crews, or the share of them that the budget pays."""
    minutes = sum(kind.now * kind.days * kind.minutes_per_day for kind in kinds)
    price = sum(kind.now * kind.days * kind.day_cost_cents for kind in kinds)
    budget = settings.budget.year_cents
    paid = 1.0 if budget is None or not price else min(1.0, budget / price)
    return paid * minutes
