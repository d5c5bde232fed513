"""Each crew-day: it exists, its stops follow one another, its minutes suffice."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from forestcycle.errors import Fault
from forestcycle.schedule.verification.files import NOT_PLANNABLE, PlanFiles, faults_where

MINUTES_TOLERANCE = 0.01
METRES_TOLERANCE = 1.0


def check_calendar(plan: PlanFiles) -> list[Fault]:
    """Check that every crew-day is one crew's working day, and storm reserve is free.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    days, settings = plan.crew_days, plan.settings
    names = days["crew_day_id"]
    crews = {crew.name: crew for crew in settings.crews}
    works = [
        name in crews and settings.works(crews[name], day.date())
        for name, day in zip(days["crew"], days["date"], strict=True)
    ]
    label = days["date"].dt.strftime("%Y-%m-%d") + " " + days["crew"].astype(str)
    used = names.isin(plan.stops["crew_day_id"])
    stop_day = plan.stops["crew_day_id"]
    return [
        *faults_where(names.duplicated(), names, "is listed twice", "crew_days"),
        *faults_where(names != label, names, "is not named after its date and crew", "crew_days"),
        *faults_where(~np.array(works, dtype=np.bool_), names, "is no working day", "crew_days"),
        *faults_where(
            used & (days["use"] == "storm reserve"), names, "storm reserve is planned", "crew_days"
        ),
        *faults_where(
            used & days["use"].isin(["lost", "emergency"]),
            names,
            "is planned, yet lost or given to emergency work",
            "crew_days",
        ),
        *faults_where(used & (days["use"] == "free"), names, "has stops but is free", "crew_days"),
        *faults_where(
            ~used & (days["use"] == "planned"), names, "is planned without stops", "crew_days"
        ),
        *faults_where(~stop_day.isin(names), stop_day, "is no crew-day", "stops"),
        *faults_where(
            (plan.stops["date"] != plan.crew_day_of_stop("date"))
            | (plan.stops["crew"] != plan.crew_day_of_stop("crew")),
            plan.stops["tree_id"],
            "its date or crew is not that of its crew-day",
            "stops",
        ),
        *_check_reserve(plan),
    ]


def _check_reserve(plan: PlanFiles) -> list[Fault]:
    """Check that days are kept for storms, or were given to one."""
    share = plan.settings.calendar.storm_reserve
    by_crew = plan.crew_days["use"].isin(NOT_PLANNABLE).groupby(plan.crew_days["crew"])
    kept, days = by_crew.sum(), by_crew.size()
    # Whole days, rounded; where a crew's year was cut short, rounded once more.
    rounding = 1.0 if "revised_from" in plan.facts else 0.5
    return faults_where(
        kept < share * days - rounding - 1e-9,
        kept.index.to_series(),
        "keeps fewer days for storms than the calendar asks",
        "crew_days",
    )


def check_order(plan: PlanFiles) -> list[Fault]:
    """Check that stops of a crew-day are numbered 1, 2, 3, ... without a gap.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stops = plan.stops
    expected = stops.groupby("crew_day_id", sort=False).cumcount() + 1
    return faults_where(
        stops["stop_order"] != expected, stops["tree_id"], "its place in the day is wrong", "stops"
    )


def check_legs(plan: PlanFiles) -> list[Fault]:
    """Check that legs lead from the depot over every stop in order, and home.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stops, legs = plan.stops, plan.legs
    first = ~stops["crew_day_id"].duplicated()
    last = ~stops["crew_day_id"].duplicated(keep="last")
    depot = plan.crew_day_of_stop("depot").astype(object)
    way_out = pd.DataFrame(
        {
            "crew_day_id": stops["crew_day_id"],
            "leg_order": stops["stop_order"],
            "from_node": stops["tree_id"].shift().where(~first, depot),
            "to_node": stops["tree_id"],
        }
    )
    way_home = pd.DataFrame(
        {
            "crew_day_id": stops["crew_day_id"],
            "leg_order": stops["stop_order"] + 1,
            "from_node": stops["tree_id"],
            "to_node": depot,
        }
    )[last]
    expected = pd.concat([way_out, way_home]).sort_values(
        ["crew_day_id", "leg_order"], ignore_index=True
    )
    columns = list(expected.columns)
    if len(legs) != len(expected):
        return [Fault(f"there are {len(legs):,} legs for {len(expected):,} drives", "legs")]
    wrong = (legs[columns].astype(object) != expected.astype(object)).any(axis=1)
    return [
        *faults_where(wrong, legs["crew_day_id"], "a leg does not join its stops", "legs of"),
        *_check_speed(plan),
        *_check_ways(plan),
    ]


def _check_speed(plan: PlanFiles) -> list[Fault]:
    """Check that no leg is faster than the fastest street, or shorter than the air distance."""
    legs = plan.legs
    fastest = _fastest_kmh(plan)
    least = legs["metres"] / (fastest * 1000 / 60)
    too_fast = legs["minutes"] < least - MINUTES_TOLERANCE
    ends = _ends(legs)
    too_short = np.hypot(*(ends[:, 2:] - ends[:, :2]).T) > legs["metres"] + METRES_TOLERANCE
    return [
        *faults_where(too_fast, legs["crew_day_id"], "a leg is faster than any street", "legs of"),
        *faults_where(
            too_short, legs["crew_day_id"], "a leg is shorter than the straight line", "legs of"
        ),
    ]


def _fastest_kmh(plan: PlanFiles) -> float:
    """Highest speed of the street layer, or the one assumed without."""
    streets = plan.tables.get("streets")
    speed = plan.settings.travel.speed_kmh
    if streets is None or "speed_kmh" not in streets or plan.facts.get("travel") != "streets":
        return speed
    return max(speed, float(streets["speed_kmh"].max(skipna=True)))


def _ends(legs: gpd.GeoDataFrame) -> NDArray[np.float64]:
    """Start and end of each leg's line, shape (n, 4); NaN where the truck stays."""
    lines = legs.geometry.to_numpy()
    start, end = shapely.get_point(lines, 0), shapely.get_point(lines, -1)
    return np.column_stack(
        [shapely.get_x(start), shapely.get_y(start), shapely.get_x(end), shapely.get_y(end)]
    )


def _check_ways(plan: PlanFiles) -> list[Fault]:
    """Check that each leg's line ends near the tree that it leads to."""
    legs, rules = plan.legs, plan.settings.travel
    trees = plan.trees[~plan.trees.index.duplicated()]
    tree = trees.geometry.reindex(legs["to_node"])
    ends = _ends(legs)
    away = np.hypot(ends[:, 2] - tree.x.to_numpy(), ends[:, 3] - tree.y.to_numpy())
    reach = rules.place_metres + rules.farthest_snap_metres + METRES_TOLERANCE
    return faults_where(away > reach, legs["to_node"], "its leg ends elsewhere", "legs to")


def check_clock(plan: PlanFiles) -> list[Fault]:
    """Check that travel, work and break fit one after another into the shift.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stops, legs = plan.stops, plan.legs
    names = stops["tree_id"]
    drive = legs[legs["leg_order"] <= legs.groupby("crew_day_id")["leg_order"].transform("max") - 1]
    home = legs[legs["leg_order"] == legs.groupby("crew_day_id")["leg_order"].transform("max")]
    if len(drive) != len(stops):
        return []  # check_legs says so
    place, first = stops["place"], ~stops["crew_day_id"].duplicated()
    parks = first | (place != place.shift())
    parking = plan.settings.travel.parking_minutes
    needed = drive["minutes"].to_numpy() + np.where(parks, parking, 0.0)
    leave = stops["arrive_minute"] + stops["service_minutes"]
    ready = leave.shift().where(~first, _leaves_depot(plan))
    early = stops["arrive_minute"] < ready + needed - MINUTES_TOLERANCE
    service = (stops["service_minutes"] - plan.tree_of_stop("minutes")).abs() > MINUTES_TOLERANCE
    travel = (stops["travel_minutes"] - needed).abs() > MINUTES_TOLERANCE
    home_minutes = home.set_index("crew_day_id")["minutes"]
    back = leave.groupby(stops["crew_day_id"]).max().add(home_minutes, fill_value=0.0)
    late = back > _shift_end(plan).reindex(back.index) + MINUTES_TOLERANCE
    return [
        *faults_where(early, names, "work begins before the crew can be there", "stops"),
        *faults_where(service, names, "its minutes are not those it needs", "stops"),
        *faults_where(travel, names, "its travel minutes are not leg and parking", "stops"),
        *faults_where(
            late, back.index.to_series(), "the crew is back after its shift", "crew_days"
        ),
        *_check_minutes(plan, home_minutes),
    ]


def _check_minutes(plan: PlanFiles, home_minutes: pd.Series) -> list[Fault]:
    """Check that a crew-day's minutes add up and leave none below zero."""
    days = plan.crew_days[~plan.crew_days.index.duplicated()]
    by_day = plan.stops.groupby("crew_day_id")
    service = by_day["service_minutes"].sum().reindex(days.index, fill_value=0.0)
    travel = by_day["travel_minutes"].sum().add(home_minutes, fill_value=0.0)
    travel = travel.reindex(days.index, fill_value=0.0)
    capacity = days["crew"].map({crew.name: crew.working_minutes for crew in plan.settings.crews})
    count = by_day.size().reindex(days.index, fill_value=0)
    free = capacity - service - travel
    names = days["crew_day_id"]
    return [
        *faults_where(
            free < -MINUTES_TOLERANCE, names, "holds more minutes than it has", "crew_days"
        ),
        *faults_where(
            (days["capacity_minutes"] - capacity).abs() > MINUTES_TOLERANCE,
            names,
            "its capacity is not the shift less break and set-up",
            "crew_days",
        ),
        *faults_where(
            ((days["service_minutes"] - service).abs() > MINUTES_TOLERANCE)
            | ((days["travel_minutes"] - travel).abs() > MINUTES_TOLERANCE)
            | ((days["free_minutes"] - free).abs() > MINUTES_TOLERANCE)
            | (days["stops"] != count),
            names,
            "its totals are not those of its stops",
            "crew_days",
        ),
    ]


def _leaves_depot(plan: PlanFiles) -> pd.Series:
    """Minute of the day at which each stop's crew may leave the depot."""
    ready = {
        crew.name: crew.shift_start.hour * 60.0 + crew.shift_start.minute + crew.setup_minutes
        for crew in plan.settings.crews
    }
    return plan.stops["crew"].map(ready)


def _shift_end(plan: PlanFiles) -> pd.Series:
    """Minute of the day at which each crew-day's shift ends."""
    end = {
        crew.name: crew.shift_start.hour * 60.0 + crew.shift_start.minute + crew.shift_minutes
        for crew in plan.settings.crews
    }
    days = plan.crew_days[~plan.crew_days.index.duplicated()]
    return days["crew"].map(end)


def check_breaks(plan: PlanFiles) -> list[Fault]:
    """Check that a crew that works past its break has had it, as a longer pause.

    Parameters
    ----------
    plan : PlanFiles

    Returns
    -------
    list of Fault
    """
    stops = plan.stops
    first = ~stops["crew_day_id"].duplicated()
    leave = stops["arrive_minute"] + stops["service_minutes"]
    ready = leave.shift().where(~first, _leaves_depot(plan))
    pause = (stops["arrive_minute"] - ready - stops["travel_minutes"]).clip(lower=0)
    crews = {crew.name: crew for crew in plan.settings.crews}
    rest = stops["crew"].map({name: float(crew.break_minutes) for name, crew in crews.items()})
    half = stops["crew"].map({name: crew.working_minutes / 2 for name, crew in crews.items()})
    worked = (stops["travel_minutes"] + stops["service_minutes"]).groupby(stops["crew_day_id"])
    before = worked.cumsum() - stops["service_minutes"]
    rested = pause.groupby(stops["crew_day_id"]).cumsum()
    wrong = (before > half + MINUTES_TOLERANCE) & (rested < rest - MINUTES_TOLERANCE)
    return faults_where(wrong, stops["tree_id"], "comes after a break that was not taken", "stops")
