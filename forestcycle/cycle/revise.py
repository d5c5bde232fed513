"""Revise the plan of a year under way."""

import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import read_plan_in_force
from forestcycle.cycle.named import check_names
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.revision_barred import barred
from forestcycle.cycle.revision_changes import compare, count_changes
from forestcycle.cycle.revision_facts import Facts
from forestcycle.cycle.revision_layers import revised_layers
from forestcycle.cycle.revision_now import Now, look_at
from forestcycle.cycle.revision_prices import money_prices, move_prices, prices_in_force
from forestcycle.cycle.revision_report import RevisionReport
from forestcycle.cycle.revision_standing import done_by_crew_day
from forestcycle.cycle.revision_writing import write_revision
from forestcycle.cycle.summary import Summary
from forestcycle.cycle.versions import recover
from forestcycle.fieldwork.lock import locked
from forestcycle.progress import Progress, Step, silent
from forestcycle.schedule import Plan, Problem, reasons, timetable
from forestcycle.schedule.problem import BoolArray, IntArray
from forestcycle.schedule.revise import Revised
from forestcycle.schedule.revise import revise as revise_plan
from forestcycle.schedule.revise_bound import Rest, bound_of_rest, rest_of
from forestcycle.schedule.revise_search import Limits
from forestcycle.schedule.revise_standing import Standing, narrowed
from forestcycle.schedule.revise_worth import Judge, as_stops

MOST_ROUNDS = 6
MOST_INSERTIONS = 300
TOO_DEAR = (
    " Only its own crew's days are meant: another crew would cost more than the visit is worth "
    "(revision.price_other_crew)."
)


@dataclass(frozen=True)
class RevisedCity:
    """How a revision went.

    Attributes
    ----------
    report : RevisionReport
    table : DataFrame
        As in ``revision.csv``.
    summary : Summary or None
        Of the revised plan; None where nothing changed.
    change : int
        Its number; 0 where nothing changed.
    """

    report: RevisionReport
    table: pd.DataFrame
    summary: Summary | None
    change: int

    @property
    def written(self) -> bool:
        """Whether there is a new plan."""
        return self.change > 0


def revise_city(
    city: City,
    folder: Path,
    facts: Facts,
    *,
    locks: Path | None = None,
    time_limit: float = 6.0,
    rounds: int | None = None,
    seed: int = 1,
    workers: int = 1,
    progress: Progress = silent,
) -> RevisedCity:
    """Revise the plan in a folder; nothing is written where nothing changes.

    Parameters
    ----------
    city : City
        With the books as they are now.
    folder : Path
        The plan's. The old plan stays in ``NAME-revisions`` beside it.
    facts : Facts
        From which day on, and what stands neither in the settings nor in the books.
    locks : Path, optional
        Table of visits that must keep their day, crew or order.
    time_limit : float
        Seconds of packing; ends earlier where little has changed.
    rounds : int, optional
        Limit the work instead; the plan then depends on input and seed alone.
    seed : int
    workers : int
        Processes that draw sheets, where there are many. More than one needs the guard
        ``if __name__ == "__main__"`` in a script.
    progress : Progress, optional

    Returns
    -------
    RevisedCity

    Raises
    ------
    PlanError
        If what must be visited finds no room, or more is spent than there is.
    SettingsError
        If facts or locks cannot hold.
    StoreError
        If the plan cannot be read or written; it is then as it was.
    """
    began = time.monotonic()
    check_names(city)
    with locked(folder.absolute(), "the plan", progress=progress):
        recover(folder)
        plan = read_plan_in_force(folder)
        now = look_at(city, plan, facts, locks, progress=progress)
        limits = Limits(
            seconds=time_limit if rounds is None else None,
            rounds=rounds or MOST_ROUNDS,
            seed=seed,
            progress=progress,
        )
        revised, rest, outcome = _revise(now, limits)
        layers = revised_layers(now, outcome, rest)
        reason_of = pd.Series(outcome.reason_text, index=city.inventory.trees["tree_id"])
        hopeless = reason_of[now.ineligible != ""].to_dict()
        table = compare(
            plan,
            layers["stops"],
            now.done,
            now.lost,
            reason_of,
            barred(city, now.problem, now.standing, revised.dropped_only, hopeless),
            now.news,
            now.missed,
            facts.from_day,
        )
        report = _report(now, revised, outcome, table, time.monotonic() - began)
        if _unchanged(now, table):
            return RevisedCity(report, table, None, 0)
        change, summary = write_revision(
            now, outcome, layers, table, report, began=began, workers=workers, progress=progress
        )
    return RevisedCity(report, table, summary, change)


def _revise(now: Now, limits: Limits) -> tuple[Revised, Rest, Outcome]:
    """Revise, bound and explain."""
    city, problem, standing = now.city, now.problem, now.standing
    prices = prices_in_force(city, problem, now.plan)
    ids = city.inventory.trees["tree_id"].tolist()
    revised = revise_plan(
        problem,
        standing,
        move_prices(city),
        money_prices(prices),
        limits,
        tree_ids=ids,
        funds=list(city.settings.budget.fund_cents),
    )
    limits.progress(Step("bounding"))
    rest = rest_of(problem, done_by_crew_day(problem, standing), standing.past(problem))
    crew_day, tree = as_stops(revised.routes)
    order = np.concatenate([np.arange(len(route)) for route in revised.routes])
    plan = Plan(
        crew_day=crew_day.astype(np.int64),
        order=order.astype(np.int64),
        tree=tree,
        worth=float(problem.worth[tree].sum()),
        bound=bound_of_rest(problem, rest, prices),
        interrupted=revised.interrupted,
        rounds=revised.rounds,
        seconds=time.monotonic() - limits.began,
        seed=limits.seed,
    )
    own_crew = Judge(problem, standing, move_prices(city)).own_crew_only()
    reason, text = reasons(
        _worth_it(problem, standing, own_crew),
        plan,
        now.ineligible,
        city.inventory,
        now.assessment,
        city.settings,
        most_insertions=MOST_INSERTIONS,
    )
    outcome = Outcome(
        city=city,
        assessment=now.assessment,
        travel=now.travel,
        calendar=now.calendar.calendar,
        problem=problem,
        plan=plan,
        timetable=timetable(problem, plan),
        reason=reason,
        reason_text=_with_done(now, _with_price(text, problem.tree[own_crew])),
    )
    return revised, rest, outcome


def _worth_it(problem: Problem, standing: Standing, own_crew: BoolArray) -> Problem:
    """Problem in which visits too dear for another crew can only be made by their own."""
    free = own_crew & (standing.lock_crew < 0)
    own = replace(standing, lock_crew=np.where(free, standing.crew, standing.lock_crew))
    return replace(narrowed(problem, own), mandatory=narrowed(problem, standing).mandatory)


def _with_price(text: NDArray[np.str_], dear: IntArray) -> NDArray[np.str_]:
    """Say of visits left out that another crew would have cost more than they are worth."""
    told = text.astype(object)
    left = dear[told[dear] != ""]
    told[left] = told[left] + TOO_DEAR
    return told.astype(np.str_)


def _with_done(now: Now, text: NDArray[np.str_]) -> NDArray[np.str_]:
    """Say of visits done otherwise than planned when and by whom."""
    told = {
        row.tree_id: f"Done on {row.visited_on:%Y-%m-%d} by {row.crew}."
        for row in now.done[~now.done["in_plan"]].itertuples(index=False)
    }
    ids = now.city.inventory.trees["tree_id"].tolist()
    return np.array(
        [told.get(tree, old) for tree, old in zip(ids, text, strict=True)], dtype=np.str_
    )


def _report(
    now: Now, revised: Revised, outcome: Outcome, table: pd.DataFrame, seconds: float
) -> RevisionReport:
    judge = Judge(now.problem, now.standing, move_prices(now.city))
    dropped = as_stops(revised.dropped_only)[1]
    bound = outcome.plan.bound
    rules = now.city.settings.revision
    return RevisionReport(
        from_day=str(now.facts.from_day),
        facts=str(now.facts),
        counts=count_changes(table),
        worth_before=now.plan.worth,
        worth_dropped_only=float(now.problem.worth[dropped].sum()),
        worth_after=outcome.plan.worth,
        worth_done_otherwise=float(now.done.loc[~now.done["in_plan"], "worth"].sum()),
        paid=judge.paid(revised.routes),
        paid_dropped_only=judge.paid(revised.dropped_only),
        price_other_day=rules.price_other_day,
        price_other_crew=rules.price_other_crew,
        bound=bound.value if bound else float("inf"),
        gap=outcome.plan.gap or 0.0,
        days_repacked=revised.days_repacked,
        deadlines_missed=[f"{tree}, {day}" for tree, day in now.missed.items()],
        reserve_days_opened=now.calendar.released,
        rounds=revised.rounds,
        interrupted=revised.interrupted,
        seconds=round(seconds, 1),
    )


def _unchanged(now: Now, table: pd.DataFrame) -> bool:
    """Whether every visit stays where it is and no crew-day was lost that had not been."""
    same = table["change"].isin(["stayed", "done"]).all()
    return bool(same) and len(now.lost) == len(now.plan.lost_days)
