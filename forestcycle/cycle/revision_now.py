"""What is the case on the day from which a plan is revised."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import PlanInForce
from forestcycle.cycle.known_ways import with_known_ways
from forestcycle.cycle.plan import travel_of
from forestcycle.cycle.revised_calendar import OPEN, RevisedCalendar, revised_calendar
from forestcycle.cycle.revision_assessment import with_history, without_missed
from forestcycle.cycle.revision_done import (
    done_as_planned,
    done_table,
    less_spent,
    visits_done,
)
from forestcycle.cycle.revision_facts import Facts, lost_days
from forestcycle.cycle.revision_locks import NO_LOCKS, Locks, locks_on_lost_days, read_locks
from forestcycle.cycle.revision_standing import done_that_fits, standing_of
from forestcycle.errors import Fault, PlanError, SettingsError
from forestcycle.practice import Assessment
from forestcycle.progress import Progress, Step
from forestcycle.schedule import Problem, build_problem
from forestcycle.schedule.revise_standing import Standing
from forestcycle.schedule.subset import subset
from forestcycle.travel import Travel

DONE_ALREADY = "done already"


@dataclass(frozen=True)
class Now:
    """The facts as they are now, and the plan in force said in them.

    Attributes
    ----------
    city : City
    plan : PlanInForce
    facts : Facts
    lost : DataFrame
        Crew-days lost, those lost before among them.
    calendar : RevisedCalendar
    assessment : Assessment
        As of now; visits made as planned stand as they were planned.
    travel : Travel
    problem : Problem
        Without trees that were visited otherwise than planned, and without their cost.
    ineligible : (n,) str
        Why a tree of the inventory cannot be planned; empty where it can.
    standing : Standing
    done : DataFrame
        Table ``done``.
    missed : dict of str to date
        Deadlines that have passed, by tree.
    """

    city: City
    plan: PlanInForce
    facts: Facts
    lost: pd.DataFrame
    calendar: RevisedCalendar
    assessment: Assessment
    travel: Travel
    problem: Problem
    ineligible: NDArray[np.str_]
    standing: Standing
    done: pd.DataFrame
    missed: dict[str, date]

    @property
    def news(self) -> set[str]:
        """Trees that are worth more than before, promised anew, or could not be visited before."""
        ids = self.city.inventory.trees["tree_id"].to_numpy()[self.problem.tree]
        return set(ids[self.standing.better_trees].tolist())


def look_at(
    city: City, plan: PlanInForce, facts: Facts, locks: Path | None, *, progress: Progress
) -> Now:
    """Work out what is the case now.

    Parameters
    ----------
    city : City
        With the books as they are now.
    plan : PlanInForce
    facts : Facts
    locks : Path or None
        Table of visits that must keep their day, crew or order.
    progress : Progress

    Returns
    -------
    Now

    Raises
    ------
    PlanError
        If no crew-day is left from that day on.
    SettingsError
        If the plan is another year's, or facts or locks cannot hold.
    """
    _refuse_other_year(city, plan)
    day = facts.from_day
    lost = lost_days(city.settings, plan.lost_days, facts)
    held = _locks(city, plan, lost, locks, day)
    calendar = revised_calendar(city.settings, plan, lost, day)
    _refuse_no_day_ahead(calendar, day)
    progress(Step("assessing trees"))
    done = visits_done(city)
    as_planned = done_as_planned(plan, done)
    as_planned = as_planned[as_planned["tree_id"].isin(set(city.inventory.trees["tree_id"]))]
    assessed = assess_city(city, progress=progress)
    assessment, missed = without_missed(assessed, done["tree_id"], day)
    assessment = with_history(assessment, plan, as_planned["tree_id"], done["tree_id"])
    progress(Step("travel times"))
    travel, problem, ineligible = _problem(city, plan, assessment, calendar)
    ids = city.inventory.trees["tree_id"].to_numpy()[problem.tree]
    draft = standing_of(city, problem, plan, as_planned, held, day)
    in_plan = set(ids[done_that_fits(problem, draft)])
    elsewhere = set(done["tree_id"]) - in_plan
    _refuse_locked_done(held, elsewhere | in_plan, set(ids))
    told = done_table(city, plan, assessment, done, in_plan, lost, day)
    open_trees = ~pd.Index(ids).isin(elsewhere)
    ineligible[problem.tree[~open_trees]] = DONE_ALREADY
    problem = less_spent(subset(problem, trees=open_trees), told, city.settings.budget)
    as_planned = as_planned[as_planned["tree_id"].isin(in_plan)]
    return Now(
        city=city,
        plan=plan,
        facts=facts,
        lost=lost,
        calendar=calendar,
        assessment=assessment,
        travel=travel,
        problem=problem,
        ineligible=ineligible.astype(np.str_),
        standing=standing_of(city, problem, plan, as_planned, held, day),
        done=told,
        missed=missed,
    )


def _problem(
    city: City, plan: PlanInForce, assessment: Assessment, calendar: RevisedCalendar
) -> tuple[Travel, Problem, NDArray[np.object_]]:
    """Travel, the problem on the crew-days in force, and why trees are not in it."""
    travel, place_of_tree = travel_of(city)
    travel = with_known_ways(city, plan, travel, place_of_tree)
    problem, ineligible = build_problem(
        city.inventory, assessment, city.settings, travel, place_of_tree, calendar=calendar.calendar
    )
    return travel, problem, ineligible.astype(object)


def _locks(
    city: City, plan: PlanInForce, lost: pd.DataFrame, path: Path | None, from_day: date
) -> Locks:
    """Read the locks, and refuse those on days that are lost."""
    held = NO_LOCKS if path is None else read_locks(path, plan, city, from_day)
    faults = locks_on_lost_days(held, lost, city.settings)
    if faults:
        raise SettingsError(faults)
    return held


def _refuse_no_day_ahead(calendar: RevisedCalendar, from_day: date) -> None:
    ahead = calendar.calendar.day >= (from_day - calendar.calendar.first_day).days
    if not (ahead & (calendar.use == OPEN)).any():
        raise PlanError(
            Fault(
                f"no crew-day is left to plan from {from_day} on",
                "calendar",
                "record what was done; what was not is for the next year's plan",
            )
        )


def _refuse_other_year(city: City, plan: PlanInForce) -> None:
    now, before = city.settings.city, plan.settings.city
    if (now.year_start, now.year_end) != (before.year_start, before.year_end):
        raise SettingsError(
            Fault(
                f"the plan covers {before.year_start} to {before.year_end}, the settings say "
                f"{now.year_start} to {now.year_end}",
                "city.year_start, city.year_end",
                "a revision keeps the year; 'forestcycle plan' makes a plan of another",
            )
        )


def _refuse_locked_done(locks: Locks, done: set[str], eligible: set[str]) -> None:
    """Refuse locks of trees that no crew-day could visit; those of visits made are idle."""
    wanted = {*locks.day, *locks.crew, *locks.order} - done
    hopeless = sorted(wanted - eligible)
    if hopeless:
        raise SettingsError(
            [
                Fault(
                    "is locked, but no crew-day can visit it now",
                    f"tree {tree}",
                    "take the lock away",
                )
                for tree in hopeless
            ]
        )
