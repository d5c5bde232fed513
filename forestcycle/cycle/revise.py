"""Revise the plan of a year under way."""

import time
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from forestcycle.cycle.assess import assess_city
from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import TABLES, PlanInForce, read_plan_in_force
from forestcycle.cycle.known_ways import with_known_ways
from forestcycle.cycle.layers import plan_layers
from forestcycle.cycle.legs import depot_names
from forestcycle.cycle.named import check_names
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.plan import travel_of
from forestcycle.cycle.revise_standing import (
    crew_day_ids,
    done_as_planned,
    done_by_crew_day,
    done_that_fits,
    money_prices,
    prices_in_force,
    standing_of,
    visits_done,
    with_history,
    without_missed,
)
from forestcycle.cycle.revised_calendar import OPEN, RevisedCalendar, revised_calendar
from forestcycle.cycle.revision_facts import Facts, lost_days
from forestcycle.cycle.revision_locks import NO_LOCKS, Locks, locks_on_lost_days, read_locks
from forestcycle.cycle.revision_report import (
    CAME,
    LEFT,
    MOVES,
    RevisionReport,
    compare,
    count_changes,
)
from forestcycle.cycle.summarise import summarise
from forestcycle.cycle.summary import Summary
from forestcycle.cycle.versions import next_version, recover
from forestcycle.errors import Fault, PlanError, SettingsError
from forestcycle.fieldwork.lock import locked
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.spreadsheet import inert_table
from forestcycle.inventory.store import write_layers
from forestcycle.practice import Assessment
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish import publish
from forestcycle.publish.outlook_folder import kept_outlook
from forestcycle.publish.unchanged import Unchanged
from forestcycle.schedule import (
    Plan,
    Problem,
    build_problem,
    price_rows,
    reasons,
    round_trip_rows,
    timetable,
    verify,
)
from forestcycle.schedule.revise import Revised
from forestcycle.schedule.revise import revise as revise_plan
from forestcycle.schedule.revise_bound import Rest, bound_of_rest, rest_of
from forestcycle.schedule.revise_search import Limits
from forestcycle.schedule.revise_standing import Standing, narrowed
from forestcycle.schedule.revise_worth import Judge, MovePrices, as_stops
from forestcycle.schedule.subset import subset
from forestcycle.travel import Travel

MOST_ROUNDS = 6
MOST_INSERTIONS = 300
DONE_ALREADY = "done already"
REVISE = "revise"
NOTHING = 0


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


@dataclass(frozen=True)
class _Now:
    """The facts as they are now, and the plan in force said in them."""

    city: City
    plan: PlanInForce
    facts: Facts
    lost: pd.DataFrame
    calendar: RevisedCalendar
    assessment: Assessment
    travel: Travel
    problem: Problem
    ineligible: "np.typing.NDArray[np.str_]"
    standing: Standing
    done: pd.DataFrame
    missed: dict[str, date]


def revise_city(
    city: City,
    folder: Path,
    facts: Facts,
    *,
    locks: Path | None = None,
    time_limit: float = 8.0,
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
        now = _look(city, plan, facts, locks, progress)
        limits = Limits(
            seconds=time_limit if rounds is None else None,
            rounds=rounds or MOST_ROUNDS,
            seed=seed,
            progress=progress,
        )
        revised, rest, outcome = _revise(now, limits)
        layers = _layers(now, outcome, rest)
        table = compare(
            plan,
            layers["stops"],
            now.done,
            now.lost,
            pd.Series(outcome.reason_text, index=city.inventory.trees["tree_id"]),
            _news(now),
            now.missed,
            facts.from_day,
        )
        report = _report(now, revised, outcome, table, time.monotonic() - began)
        if _unchanged(now, table):
            return RevisedCity(report, table, None, 0)
        change, summary = _write(
            now, outcome, layers, table, report, began=began, workers=workers, progress=progress
        )
    return RevisedCity(report, table, summary, change)


def _look(
    city: City, plan: PlanInForce, facts: Facts, locks: Path | None, progress: Progress
) -> _Now:
    """Work out what is the case now."""
    settings = city.settings
    _refuse_other_year(city, plan)
    lost = lost_days(settings, plan.lost_days, facts)
    held = NO_LOCKS if locks is None else read_locks(locks, plan, settings, facts.from_day)
    faults = locks_on_lost_days(held, lost, settings)
    if faults:
        raise SettingsError(faults)
    calendar = revised_calendar(settings, plan, lost, facts.from_day)
    if not (calendar.use == OPEN).any():
        raise PlanError(Fault("no crew-day is left to plan", "calendar", "give some back"))
    progress(Step("assessing trees"))
    done = visits_done(city)
    as_planned = done_as_planned(plan, done)
    known = as_planned["tree_id"].isin(set(city.inventory.trees["tree_id"]))
    as_planned = as_planned[known]
    assessment, missed = without_missed(
        assess_city(city, progress=progress), done["tree_id"], facts.from_day
    )
    assessment = with_history(assessment, plan, as_planned["tree_id"], done["tree_id"])
    progress(Step("travel times"))
    travel, place_of_tree = travel_of(city)
    travel = with_known_ways(city, plan, travel, place_of_tree)
    problem, ineligible = build_problem(
        city.inventory,
        assessment,
        settings,
        travel,
        place_of_tree,
        calendar=calendar.calendar,
    )
    ids = city.inventory.trees["tree_id"].to_numpy()[problem.tree]
    draft = standing_of(city, problem, plan, as_planned, held, facts.from_day)
    in_plan = set(ids[done_that_fits(problem, draft)])
    as_planned = as_planned[as_planned["tree_id"].isin(in_plan)]
    elsewhere = set(done["tree_id"]) - in_plan
    open_trees = np.array([tree not in elsewhere for tree in ids.tolist()], dtype=np.bool_)
    ineligible = ineligible.astype(object)
    ineligible[problem.tree[~open_trees]] = DONE_ALREADY
    _refuse_locked_done(held, elsewhere | in_plan, set(ids))
    told = _done_table(city, plan, assessment, done, in_plan, facts.from_day)
    problem = _less_spent(subset(problem, trees=open_trees), told, settings)
    return _Now(
        city=city,
        plan=plan,
        facts=facts,
        lost=lost,
        calendar=calendar,
        assessment=assessment,
        travel=travel,
        problem=problem,
        ineligible=ineligible.astype(np.str_),
        standing=standing_of(city, problem, plan, as_planned, held, facts.from_day),
        done=told,
        missed=missed,
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


def _done_table(
    city: City,
    plan: PlanInForce,
    assessment: Assessment,
    done: pd.DataFrame,
    in_plan: set[str],
    from_day: date,
) -> pd.DataFrame:
    """Table ``done``: this year's visits, and what those cost that the plan's days do not hold.

    A crew-day that is past, has such visits and none of the plan is paid once.
    """
    table = done.drop_duplicates("tree_id")[["tree_id", "visited_on", "crew", "outcome"]].copy()
    judged = assessment.trees.set_index("tree_id").reindex(table["tree_id"])
    funds = city.inventory.trees.set_index("tree_id")["fund"].reindex(table["tree_id"])
    table["fund"] = funds.fillna("").to_numpy()
    table["worth"] = judged["priority"].fillna(0.0).to_numpy()
    table["cost_cents"] = judged["cost_cents"].fillna(0).to_numpy()
    before = plan.trees.reindex(table["tree_id"])
    planned = table["tree_id"].isin(set(plan.stops["tree_id"])).to_numpy()
    for name, column in (("worth", "priority"), ("cost_cents", "cost_cents")):
        table.loc[planned, name] = before[column].to_numpy()[planned]
    again = plan.done.drop_duplicates("tree_id").set_index("tree_id").reindex(table["tree_id"])
    told_before = again["worth"].notna().to_numpy()
    for name in ("worth", "cost_cents"):
        table.loc[told_before, name] = again[name].to_numpy()[told_before]
    table["in_plan"] = table["tree_id"].isin(in_plan)
    table["day_cost_cents"] = _day_costs(city, table, from_day)
    return table.astype(dict(TABLES["done"]))[list(TABLES["done"])]


def _day_costs(city: City, table: pd.DataFrame, from_day: date) -> "np.typing.NDArray[np.int64]":
    day = table["visited_on"].dt.strftime("%Y-%m-%d") + " " + table["crew"].fillna("").astype(str)
    paid_by_plan = set(day[table["in_plan"]])
    cost = table["crew"].map({crew.name: crew.day_cost_cents for crew in city.settings.crews})
    counts = (
        ~table["in_plan"]
        & ~day.isin(paid_by_plan)
        & (table["visited_on"] < pd.Timestamp(from_day))
        & ~day.where(~table["in_plan"]).duplicated()
    )
    return np.where(counts, cost.fillna(0), 0).astype(np.int64)


def _less_spent(problem: Problem, done: pd.DataFrame, settings: object) -> Problem:
    """Take what was spent beside the plan off the budgets."""
    aside = done[~done["in_plan"]]
    funds = list(settings.budget.fund_cents)  # type: ignore[attr-defined]
    by_fund = aside.groupby("fund")["cost_cents"].sum().reindex(funds, fill_value=0)
    spent = int(aside["cost_cents"].sum() + aside["day_cost_cents"].sum())
    budget = problem.budget_cents
    left = problem.fund_budget_cents - by_fund.to_numpy(np.int64)
    return replace(
        problem,
        budget_cents=None if budget is None else budget - spent,
        fund_budget_cents=left,
    )


def _revise(now: _Now, limits: Limits) -> tuple[Revised, Rest, Outcome]:
    """Revise, bound and explain."""
    city, problem, standing = now.city, now.problem, now.standing
    prices = prices_in_force(city, problem, now.plan)
    ids = city.inventory.trees["tree_id"].tolist()
    revised = revise_plan(
        problem, standing, _move_prices(city), money_prices(prices), limits, tree_ids=ids
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
    reason, text = reasons(
        narrowed(problem, standing),
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
        reason_text=_with_done(now, text),
    )
    return revised, rest, outcome


def _move_prices(city: City) -> MovePrices:
    rules = city.settings.revision
    return MovePrices(rules.price_other_day, rules.price_other_crew)


def _with_done(now: _Now, text: "np.typing.NDArray[np.str_]") -> "np.typing.NDArray[np.str_]":
    """Say of visits done otherwise than planned when and by whom."""
    told = {
        row.tree_id: f"Done on {row.visited_on:%Y-%m-%d} by {row.crew}."
        for row in now.done[~now.done["in_plan"]].itertuples(index=False)
    }
    ids = now.city.inventory.trees["tree_id"].tolist()
    return np.array(
        [told.get(tree, old) for tree, old in zip(ids, text, strict=True)], dtype=np.str_
    )


def _layers(now: _Now, outcome: Outcome, rest: Rest) -> dict[str, pd.DataFrame]:
    """Layers of the revised plan; the bound's tables are of what is still open."""
    layers = plan_layers(replace(outcome, plan=replace(outcome.plan, bound=None)))
    days = layers["crew_days"]
    marked = np.isin(now.calendar.use.astype(str), ["lost", "emergency"])
    days.loc[marked, "use"] = now.calendar.use[marked]
    ids = np.array(crew_day_ids(now.city, outcome.problem), dtype=object)
    layers["prices"] = price_rows(rest.problem, outcome.plan, ids[rest.crew_days].tolist())
    layers["round_trips"] = round_trip_rows(
        rest.problem, outcome.plan, depot_names(outcome).tolist()
    )
    bound = outcome.plan.bound
    told = {
        "bound": repr(bound.value if bound else float("inf")),
        "revised_from": str(now.facts.from_day),
    }
    run = layers["run"][~layers["run"]["key"].isin(told)]
    added = pd.DataFrame({"key": list(told), "value": list(told.values())})
    layers["run"] = pd.concat([run, added], ignore_index=True)
    return layers | {"lost_days": now.lost, "done": now.done}


def _news(now: _Now) -> set[str]:
    ids = now.city.inventory.trees["tree_id"].to_numpy()[now.problem.tree]
    return set(ids[now.standing.better_trees].tolist())


def _report(
    now: _Now, revised: Revised, outcome: Outcome, table: pd.DataFrame, seconds: float
) -> RevisionReport:
    judge = Judge(now.problem, now.standing, _move_prices(now.city))
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
        seconds=round(seconds, 1),
    )


def _unchanged(now: _Now, table: pd.DataFrame) -> bool:
    """Whether every visit stays where it is and no crew-day was lost that had not been."""
    same = table["change"].isin(["stayed", "done"]).all()
    return bool(same) and len(now.lost) == len(now.plan.lost_days)


def _write(
    now: _Now,
    outcome: Outcome,
    layers: dict[str, pd.DataFrame],
    table: pd.DataFrame,
    report: RevisionReport,
    *,
    began: float,
    workers: int,
    progress: Progress,
) -> tuple[int, Summary]:
    """Write, verify and publish the revised plan, then put it in the old one's place."""
    change, changes = _changes(now, report)
    with next_version(now.plan.folder, change) as fresh:
        progress(Step("writing the plan"))
        write_layers(fresh / "plan.gpkg", layers | {"changes": changes})
        summary = summarise(outcome, layers["crew_days"])
        reserve = int((layers["crew_days"]["use"] == "storm reserve").sum())
        summary = replace(summary, crew_days_storm_reserve=reserve)
        write_text_atomically(fresh / "summary.json", summary.to_json())
        progress(Step("verifying the plan"))
        verification = verify(fresh)
        summary = replace(
            summary,
            verified=verification.ok,
            verification_faults=[str(fault) for fault in verification.faults],
        )
        write_text_atomically(fresh / "summary.json", summary.to_json())
        write_text_atomically(fresh / "revision.csv", inert_table(table).to_csv(index=False))
        write_text_atomically(fresh / "revision.json", report.to_json())
        same = _unchanged_crew_days(now.plan, layers["stops"])
        publish(
            fresh,
            outlook=kept_outlook(now.plan.folder),
            unchanged=Unchanged(now.plan.folder, same),
            workers=workers,
            progress=progress,
        )
        summary = replace(summary, seconds=round(time.monotonic() - began, 1))
        write_text_atomically(fresh / "summary.json", summary.to_json())
    return change, summary


def _unchanged_crew_days(plan: PlanInForce, stops: pd.DataFrame) -> set[str]:
    """Crew-days of which every paper says the same as before."""
    names = [name for name in plan.stops.columns if name in stops.columns and name != "geometry"]

    def printed(table: pd.DataFrame) -> pd.Series:
        plain = pd.DataFrame({name: _printed(table[name]) for name in names})
        codes = pd.util.hash_pandas_object(plain, index=False)
        return codes.groupby(pd.DataFrame(table)["crew_day_id"].astype(str)).agg(tuple)

    before, after = printed(plan.stops), printed(stops)
    common = before.index.intersection(after.index)
    return set(common[(before[common] == after[common]).to_numpy(bool)])


def _printed(column: pd.Series) -> pd.Series:
    """Bring a column into one form, whether it comes from a file or from memory."""
    if pd.api.types.is_datetime64_any_dtype(column):
        days: pd.Series = column.dt.strftime("%Y-%m-%d").fillna("")
        return days
    if pd.api.types.is_numeric_dtype(column):
        return column.astype(np.float64).round(6) + 0.0  # no minus zero
    plain = column.astype(object)
    return plain.where(column.notna(), "").astype(str)


def _changes(now: _Now, report: RevisionReport) -> tuple[int, pd.DataFrame]:
    """Append this revision to the plan's changes."""
    known = now.plan.changes
    number = int(known["change"].max()) + 1 if len(known) else 1
    row = pd.DataFrame(
        {
            "change": [number],
            "at": [datetime.now(UTC).isoformat(timespec="seconds")],
            "command": [REVISE],
            "from_day": [report.from_day],
            "facts": [report.facts],
            "input_sha256": [now.city.inventory.sha256],
            "moved": [sum(report.counts[kind] for kind in MOVES)],
            "left": [report.counts[LEFT]],
            "came": [report.counts[CAME]],
            "undoes": [NOTHING],
        }
    ).astype(dict(TABLES["changes"]))
    table = pd.concat([known, row], ignore_index=True) if len(known) else row
    return number, table
