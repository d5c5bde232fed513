"""The layer ``crew_days``: every crew's every working day, used or free."""

import geopandas as gpd
import numpy as np
import pandas as pd

from forestcycle.cycle.crew_day_ids import crew_day_ids
from forestcycle.cycle.legs import depot_names, routes
from forestcycle.cycle.outcome import Outcome


def crew_days_layer(
    outcome: Outcome, stops: gpd.GeoDataFrame, legs: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Minutes, money, use and route of every crew-day.

    Parameters
    ----------
    outcome : Outcome
    stops, legs : GeoDataFrame
        The layers of these names.

    Returns
    -------
    GeoDataFrame
        A line where the crew-day is used, no geometry where it is free.
    """
    days = _calendar(outcome)
    by_day = stops.groupby("crew_day_id", sort=False)
    totals = by_day[["service_minutes", "travel_minutes", "cost_cents"]].sum()
    totals["stops"] = by_day.size()
    totals["travel_minutes"] += _home_minutes(outcome)
    table = days.join(totals, on="crew_day_id")
    planned = table["stops"].notna()
    table = table.fillna(dict.fromkeys(totals.columns, 0))
    table["stops"] = table["stops"].astype(np.int64)
    table["cost_cents"] = (
        table["cost_cents"] + table.pop("day_cost_cents").where(planned, 0)
    ).astype(np.int64)
    table["free_minutes"] = (
        table["capacity_minutes"] - table["service_minutes"] - table["travel_minutes"]
    )
    table["use"] = np.select(
        [table.pop("storm_reserve"), planned], ["storm reserve", "planned"], default="free"
    )
    drawn = routes(legs)
    route = [drawn.get(name) for name in table["crew_day_id"]]
    return gpd.GeoDataFrame(table, geometry=route, crs=stops.crs)


def _calendar(outcome: Outcome) -> pd.DataFrame:
    calendar, crews = outcome.calendar, outcome.city.settings.crews
    first = next(iter(depot_names(outcome.city, outcome.travel).values()))
    table = pd.DataFrame(
        {
            "crew": [crew.name for crew in crews],
            "depot": [crew.depot or first for crew in crews],
            "start_minute": [
                crew.shift_start.hour * 60.0 + crew.shift_start.minute for crew in crews
            ],
            "shift_minutes": [float(crew.shift_minutes) for crew in crews],
            "break_minutes": [float(crew.break_minutes) for crew in crews],
            "setup_minutes": [float(crew.setup_minutes) for crew in crews],
            "capacity_minutes": [float(crew.working_minutes) for crew in crews],
            "skills": [" ".join(crew.skills) for crew in crews],
            "day_cost_cents": [crew.day_cost_cents for crew in crews],
        }
    ).iloc[calendar.crew]
    table = table.reset_index(drop=True)
    table.insert(0, "crew_day_id", crew_day_ids(outcome.city, calendar.crew, calendar.day))
    first_day = pd.Timestamp(calendar.first_day)
    table.insert(1, "date", first_day + pd.to_timedelta(calendar.day, unit="D"))
    table["storm_reserve"] = calendar.storm_reserve
    return table


def _home_minutes(outcome: Outcome) -> pd.Series:
    used = np.unique(outcome.plan.crew_day)
    return pd.Series(outcome.timetable.home_minutes[used], index=outcome.crew_day_names[used])
