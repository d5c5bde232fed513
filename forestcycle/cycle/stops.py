"""The layer ``stops``: one row per planned visit, in the order of the day."""

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forestcycle.cycle.outcome import Outcome
from forestcycle.practice.next_visit import next_recall
from forestcycle.schedule import equipment_texts, hours_texts

FROM_INVENTORY = str.split("tree_id species common_name street address ward dbh_cm fund conductors")
FROM_ASSESSMENT = str.split(
    "age_class dose dose_limit work note cautions priority not_before due overdue_after "
    "cost_cents skill brush_kg visits_needed defects_are_prior"
)


def stops_layer(outcome: Outcome) -> gpd.GeoDataFrame:
    """Every visit with its time, its work and its cautions.

    Parameters
    ----------
    outcome : Outcome

    Returns
    -------
    GeoDataFrame
        Points, sorted by crew-day and order.
    """
    problem, plan, timetable = outcome.problem, outcome.plan, outcome.timetable
    row, crew_day = outcome.stop_row, plan.crew_day
    trees = outcome.city.inventory.trees
    names = np.array([crew.name for crew in outcome.city.settings.crews])
    days = pd.Timestamp(outcome.calendar.first_day) + pd.to_timedelta(problem.date, unit="D")
    place = pd.DataFrame(
        {
            "crew_day_id": outcome.crew_day_names[crew_day],
            "crew": names[problem.crew[crew_day]],
            "date": days[crew_day],
            "stop_order": plan.order + 1,
            "arrive": clock(timetable.arrive),
            "leave": clock(timetable.leave),
            "arrive_minute": timetable.arrive,
            "travel_minutes": timetable.travel_minutes,
            "service_minutes": problem.service_minutes[plan.tree],
            "place": problem.place[plan.tree],
        }
    )
    known = trees[FROM_INVENTORY].iloc[row].reset_index(drop=True)
    decided = outcome.assessment.trees[FROM_ASSESSMENT].iloc[row].reset_index(drop=True)
    settings, inventory = outcome.city.settings, outcome.city.inventory
    decided["hours"] = hours_texts(settings, inventory)[row]
    decided["equipment"] = equipment_texts(settings, inventory, outcome.assessment.trees)[row]
    again = next_recall(outcome.city.inventory, outcome.assessment, row, days[crew_day].to_numpy())
    decided["next_due"] = again.due
    return gpd.GeoDataFrame(
        pd.concat([place, known, decided], axis=1),
        geometry=trees.geometry.to_numpy()[row],
        crs=trees.crs,
    )


def clock(minutes: NDArray[np.float64]) -> list[str]:
    """Minutes of the day as ``HH:MM``, rounded down to the minute.

    Parameters
    ----------
    minutes : (k,) float64

    Returns
    -------
    list of str
    """
    whole = np.floor(minutes + 1e-6).astype(np.int64)
    return [f"{minute // 60:02d}:{minute % 60:02d}" for minute in whole]
