"""A small valid plan folder, written by hand, for the verifier to read."""

from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from shapely import LineString, Point

from forestcycle.schedule.bound import allocate
from forestcycle.schedule.calendar import crew_calendar
from forestcycle.schedule.evidence import price_rows, round_trip_rows
from forestcycle.schedule.left_out import left_out_reasons
from forestcycle.schedule.plan import Plan
from forestcycle.schedule.problem import Problem
from forestcycle.schedule.timetable import legs_of, timetable
from forestcycle.settings import CycleSettings
from forestcycle.travel import DistanceTravel

CRS = "EPSG:32633"
SETTINGS = {
    "city": {
        "name": "Elmstead",
        "inventory": "elmstead.gpkg",
        "year_start": "2027-03-01",
        "year_end": "2027-03-14",
    },
    "calendar": {"storm_reserve": 0.1, "holidays": ["2027-03-05"]},
    "crews": [
        {"name": "North", "depot": "North yard", "skills": ["climb"], "day_cost_cents": 90_000},
        {
            "name": "South",
            "depot": "South yard",
            "skills": ["ground"],
            "shift_minutes": 420,
            "day_cost_cents": 70_000,
        },
    ],
    "budget": {"year_cents": 1_100_000, "fund_cents": {"avenues": 60_000}},
    "plan": {"ward_least_share": {"Hill": 0.2}},
    "travel": {"speed_kmh": 20.0, "detour_factor": 1.3, "place_metres": 60.0},
}
CLOSED = ("", "2027-03-01/2027-03-04 bird nesting; 2027-03-10/2027-03-11 market")
SKILL_BIT = {"ground": 1, "climb": 2}


def settings():
    return CycleSettings.model_validate(SETTINGS)


def invented_trees(count: int, seed: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    first = pd.Timestamp("2027-03-01")
    return pd.DataFrame(
        {
            "tree_id": [f"T{i:03d}" for i in range(count)],
            "fund": rng.choice(["", "avenues"], count, p=[0.7, 0.3]),
            "ward": rng.choice(["Hill", "River"], count),
            "dose": 0.15,
            "dose_limit": 0.25,
            "not_before": first + pd.to_timedelta(rng.integers(-60, 7, count), unit="D"),
            "deadline": pd.Series(
                np.where(rng.random(count) < 0.1, first + pd.Timedelta(days=9), pd.NaT),
                dtype="datetime64[ns]",
            ),
            "priority": rng.lognormal(1, 0.6, count),
            "minutes": rng.uniform(15, 60, count).round(1),
            "skill": rng.choice(["ground", "climb"], count, p=[0.7, 0.3]),
            "cost_cents": rng.integers(500, 6_000, count),
            "mandatory": np.arange(count) < 2,
            "season": rng.integers(0, 2, count),
            "target": rng.choice(["school", "street", "footway"], count),
            "street": rng.choice(["Elm Row", "High Street", ""], count),
            "height_m": rng.uniform(3, 20, count),
            "brush_kg": rng.uniform(0, 300, count),
        }
    )


def invented_problem(trees: pd.DataFrame, seed: int) -> Problem:
    rng = np.random.default_rng(seed + 1)
    rules, calendar = settings(), crew_calendar(settings())
    spots = np.column_stack([rng.uniform(0, 4000, len(trees)), rng.uniform(0, 4000, len(trees))])
    place = np.minimum(np.arange(len(trees)) // 2, len(trees) - 1)
    places = place.max() + 1
    x, y = np.append(spots[:places, 0], [500, 3500]), np.append(spots[:places, 1], [500, 3500])
    travel = DistanceTravel(x, y, places, rules.travel.detour_factor, rules.travel.speed_kmh)
    kept = ~calendar.storm_reserve
    crew, date = calendar.crew[kept], calendar.day[kept]
    day = pd.Timestamp(calendar.first_day) + pd.to_timedelta(np.arange(calendar.days), unit="D")
    open_on = np.array(
        [
            (day >= start) & ~(day > end) & ~_closed(day, CLOSED[season])
            for start, end, season in zip(
                trees["not_before"], trees["deadline"], trees["season"], strict=True
            )
        ]
    )
    crews = rules.crews
    minutes = np.array([float(c.working_minutes) for c in crews])[crew]
    n = len(trees)
    return Problem(
        tree=np.arange(n),
        place=place,
        x=x[place],
        y=y[place],
        worth=trees["priority"].to_numpy(),
        service_minutes=trees["minutes"].to_numpy(),
        cost_cents=trees["cost_cents"].to_numpy(),
        fund=np.where(trees["fund"] == "avenues", 0, -1),
        ward=np.where(trees["ward"] == "Hill", 0, -1),
        skill=trees["skill"].map(SKILL_BIT).to_numpy(np.uint32),
        window=np.arange(n),
        open_on=open_on,
        hours_from=np.zeros(n),
        hours_until=np.full(n, 1440.0),
        mandatory=trees["mandatory"].to_numpy(),
        date=date,
        crew=crew,
        depot=places + crew,
        start_minute=np.array([7 * 60.0 + c.setup_minutes for c in crews])[crew],
        capacity_minutes=minutes,
        break_after=minutes / 2,
        break_minutes=np.array([float(c.break_minutes) for c in crews])[crew],
        crew_skill=np.array([3, 1], dtype=np.uint32)[crew],
        day_cost_cents=np.array([c.day_cost_cents for c in crews])[crew],
        budget_cents=rules.budget.year_cents,
        fund_budget_cents=np.array([60_000]),
        ward_least_share=np.array([0.2]),
        parking_minutes=rules.travel.parking_minutes,
        travel=travel,
    )


def _closed(day, text):
    closed = np.zeros(len(day), dtype=bool)
    for part in filter(None, text.split("; ")):
        first, last = part.split()[0].split("/")
        closed |= (day >= first) & (day <= last)
    return closed


def greedy_plan(problem: Problem) -> Plan:
    """Fill one crew-day after another, the worthiest tree per minute first."""
    days: dict[int, list[int]] = {}
    order = np.argsort(-problem.worth / problem.service_minutes - 100 * problem.mandatory)
    for tree in order.tolist():
        for day in range(problem.crew_days):
            trial = days | {day: sorted([*days.get(day, []), tree], key=lambda t: problem.place[t])}
            if _keeps_limits(problem, trial, day, tree):
                days = trial
                break
    rows = [(day, k, tree) for day in sorted(days) for k, tree in enumerate(days[day])]
    crew_day, position, tree = np.array(rows, dtype=np.int64).T
    return Plan(
        crew_day=crew_day,
        order=position,
        tree=tree,
        worth=float(problem.worth[tree].sum()),
        bound=allocate(problem),
        interrupted=False,
        rounds=1,
        seconds=0.0,
        seed=1,
    )


def _keeps_limits(problem, days, day, tree):
    if not problem.open_on[problem.window[tree], problem.date[day]]:
        return False
    if problem.skill[tree] & ~problem.crew_skill[day]:
        return False
    trees = np.array(days[day])
    minutes = legs_of(problem, day, trees).sum() + problem.service_minutes[trees].sum()
    every = np.concatenate([np.array(chosen) for chosen in days.values()])
    cost = problem.cost_cents[every].sum() + problem.day_cost_cents[list(days)].sum()
    fund = problem.cost_cents[every][problem.fund[every] == 0].sum()
    return (
        minutes <= problem.capacity_minutes[day]
        and cost <= problem.budget_cents
        and fund <= problem.fund_budget_cents[0]
    )


def plan_tables(count: int = 160, seed: int = 3) -> dict[str, pd.DataFrame]:
    """Every table of ``plan.gpkg`` that the verifier reads."""
    trees = invented_trees(count, seed)
    problem = invented_problem(trees, seed)
    plan = greedy_plan(problem)
    rules, calendar = settings(), crew_calendar(settings())
    names = np.array([crew.name for crew in rules.crews])
    depots = np.array([crew.depot for crew in rules.crews], dtype=object)
    ids = [
        f"{calendar.date_of(day)} {names[crew]}"
        for crew, day in zip(problem.crew, problem.date, strict=True)
    ]
    ids = np.array(ids, dtype=object)
    stops = _stops(trees, problem, plan, ids, names, calendar)
    legs = _legs(trees, problem, plan, ids, depots)
    facts = {
        "settings": rules.model_dump_json(),
        "travel": "distance",
        "worth": repr(plan.worth),
        "bound": repr(plan.bound.value),
    }
    return {
        "trees": _trees(trees, problem, plan, stops),
        "stops": stops,
        "crew_days": _crew_days(rules, calendar, stops, legs, depots),
        "legs": legs,
        "prices": price_rows(problem, plan, ids),
        "round_trips": round_trip_rows(
            problem, plan, dict(enumerate(depots, int(problem.depot.min())))
        ),
        "run": pd.DataFrame({"key": list(facts), "value": list(facts.values())}),
    }


def _stops(trees, problem, plan, ids, names, calendar):
    times = timetable(problem, plan)
    day = plan.crew_day
    table = pd.DataFrame(
        {
            "crew_day_id": ids[day],
            "crew": names[problem.crew[day]],
            "date": pd.Timestamp(calendar.first_day) + pd.to_timedelta(problem.date[day], unit="D"),
            "stop_order": plan.order + 1,
            "arrive_minute": times.arrive,
            "travel_minutes": times.travel_minutes,
            "service_minutes": problem.service_minutes[plan.tree],
            "place": problem.place[plan.tree],
        }
    )
    known = trees[["tree_id", "dose", "cost_cents"]].iloc[plan.tree].reset_index(drop=True)
    return pd.concat([table, known], axis=1)


def _legs(trees, problem, plan, ids, depots):
    rows = []
    for day in np.unique(plan.crew_day).tolist():
        mine = plan.tree[plan.crew_day == day]
        nodes = [problem.depot[day], *problem.place[mine], problem.depot[day]]
        names = [depots[problem.crew[day]], *trees["tree_id"].iloc[mine], depots[problem.crew[day]]]
        for k, (start, end) in enumerate(pairwise(nodes)):
            moves = start != end
            rows.append(
                {
                    "crew_day_id": ids[day],
                    "leg_order": k + 1,
                    "from_node": names[k],
                    "to_node": names[k + 1],
                    "minutes": float(problem.travel.minutes([start], [end])[0, 0]),
                    "metres": problem.travel.metres(start, end),
                    "geometry": LineString(problem.travel.path(start, end)) if moves else None,
                }
            )
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)


def _trees(trees, problem, plan, stops):
    left_out = np.setdiff1d(np.arange(len(trees)), plan.tree)
    reason = np.full(len(trees), "", dtype=object)
    reason[left_out] = left_out_reasons(problem, plan, left_out)[0]
    booked = stops.set_index("tree_id")
    table = trees.drop(columns="season").assign(
        planned_on=trees["tree_id"].map(booked["date"]),
        crew_day_id=trees["tree_id"].map(booked["crew_day_id"]).fillna(""),
        reason=reason,
        place=problem.place,
        closed_windows=np.array(CLOSED, dtype=object)[trees["season"]],
    )
    points = [Point(x, y) for x, y in zip(problem.x, problem.y, strict=True)]
    return gpd.GeoDataFrame(table, geometry=points, crs=CRS)


def _crew_days(rules, calendar, stops, legs, depots):
    by_day = stops.groupby("crew_day_id")
    home = legs[legs["leg_order"] == legs.groupby("crew_day_id")["leg_order"].transform("max")]
    home = home.set_index("crew_day_id")["minutes"]
    rows = []
    for crew, day, reserve in zip(calendar.crew, calendar.day, calendar.storm_reserve, strict=True):
        mine, date = rules.crews[crew], calendar.date_of(day)
        name = f"{date} {mine.name}"
        used = name in by_day.groups
        part = by_day.get_group(name) if used else stops.iloc[:0]
        service, travel = part["service_minutes"].sum(), part["travel_minutes"].sum()
        travel += home.get(name, 0.0)
        rows.append(
            {
                "crew_day_id": name,
                "crew": mine.name,
                "date": pd.Timestamp(date),
                "depot": depots[crew],
                "capacity_minutes": float(mine.working_minutes),
                "service_minutes": service,
                "travel_minutes": travel,
                "free_minutes": mine.working_minutes - service - travel,
                "stops": len(part),
                "cost_cents": int(part["cost_cents"].sum() + used * mine.day_cost_cents),
                "use": "storm reserve" if reserve else "planned" if used else "free",
            }
        )
    return pd.DataFrame(rows)


def write_plan(folder: Path, tables: dict[str, pd.DataFrame]) -> Path:
    """Write the tables as ``plan.gpkg`` into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, table in tables.items():
        pyogrio.write_dataframe(table, folder / "plan.gpkg", layer=name, driver="GPKG")
    return folder


def with_fact(tables, key, value):
    """The tables with another entry in ``run``."""
    run = tables["run"].copy()
    run.loc[run["key"] == key, "value"] = value
    return tables | {"run": run}
