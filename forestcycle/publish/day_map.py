"""A crew's week as one page: a map and a list of stops for each day, for a phone or tablet."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.progress import Step
from forestcycle.publish.backdrop import backdrop, paths, world_units
from forestcycle.publish.crew_day import CrewDay, distance, used_crew_days
from forestcycle.publish.crew_rows import terms_in_words
from forestcycle.publish.crew_sheet import CAUTIONS_FILE
from forestcycle.publish.names import safe_name
from forestcycle.publish.output import Edition, Output, Paper
from forestcycle.publish.page import Drawing, OfflineMap, Page, render, script_json
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.settings.publishing import Publishing

FOLDER = "maps"
WEEK_FOLDER = f"{FOLDER}/crews"
MARGIN_M = 250.0
"""How much of the city around the week's stops is drawn."""

LIVE_CONDUCTORS = ("low_voltage", "high_voltage")

STYLES = ["leaflet/leaflet.css", "site.css", "day.css"]
SCRIPTS = ["leaflet/leaflet.js", "backdrop.js", "day.js"]


@dataclass(frozen=True)
class _Way:
    """What a crew-day's list does not hold: its legs, and which stops stand under conductors."""

    legs: gpd.GeoDataFrame
    conductors: NDArray[np.bool_]


@dataclass(frozen=True)
class CrewWeek:
    """The days of one crew in one ISO week.

    Attributes
    ----------
    crew : str
        As the plan has it.
    year, week : int
        ISO 8601.
    days : list of CrewDay
    """

    crew: str
    year: int
    week: int
    days: list[CrewDay]


def week_page(crew: str, day: date) -> str:
    """Name the page of a crew's week.

    Parameters
    ----------
    crew : str
        As the plan has it.
    day : date
        Any day of the week.

    Returns
    -------
    str
        Relative to the plan's folder.
    """
    year, week, _ = day.isocalendar()
    return f"{WEEK_FOLDER}/{safe_name(crew)} {year}-W{week:02d}.html"


def crew_weeks(days: list[CrewDay]) -> list[CrewWeek]:
    """Group crew-days by crew and ISO week.

    Parameters
    ----------
    days : list of CrewDay

    Returns
    -------
    list of CrewWeek
        By crew, then time.
    """

    def key(day: CrewDay) -> tuple[str, int, int]:
        year, week, _ = day.date.isocalendar()
        return day.crew, year, week

    ordered = sorted(days, key=lambda day: (day.crew, day.date))
    return [CrewWeek(*week, list(group)) for week, group in groupby(ordered, key)]


def write_day_maps(edition: Edition) -> list[Path]:
    """Write one page per crew and week.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
    """
    plan = edition.changed_weeks
    settings = settings_of(plan).publish
    weeks = crew_weeks(used_crew_days(plan))
    ways = _ways(plan)
    written = []
    for done, week in enumerate(weeks):
        edition.progress(Step("day maps", done, len(weeks)))
        path = edition.folder / week_page(week.crew, week.days[0].date)
        write_text_atomically(path, _week_html(plan, week, ways, settings))
        written.append(path)
    return written


def _ways(plan: PlanFolder) -> dict[str, _Way]:
    conductors = plan.stops["conductors"].astype(str).isin(LIVE_CONDUCTORS)
    legs = dict(iter(plan.legs.groupby(plan.legs["crew_day_id"].astype(str))))
    return {
        str(name): _Way(legs.get(str(name), plan.legs.iloc[:0]), group.to_numpy())
        for name, group in conductors.groupby(plan.stops["crew_day_id"].astype(str))
    }


def _week_html(
    plan: PlanFolder, week: CrewWeek, ways: dict[str, _Way], settings: Publishing
) -> str:
    crew = week.days[0].crew_shown
    title = f"{crew}, week {week.week} of {week.year}"
    page = Page(title, styles=STYLES, scripts=SCRIPTS, tile_address=settings.tile_address)
    days = [
        {
            "name": f"{day.date:%a} {day.date.day} {day.date:%b}",
            "id": day.date.isoformat(),
            "day": day,
            "way": distance(day.metres, settings.units),
            "stops": list(_stops(day, ways[day.crew_day_id])),
        }
        for day in week.days
    ]
    page.add_html(render("day.html", crew=crew, week=week, days=days, cautions=_cautions()))
    shown = OfflineMap("week", tile_address=settings.tile_address)
    page.add_child(shown)
    shown.add_child(Drawing("showWeek", "days", "ground"))
    page.add_data("ground", script_json(_ground(plan, week, settings)))
    page.add_data(
        "days",
        script_json([_drawn(day, ways[day.crew_day_id], plan.trees.crs) for day in week.days]),
    )
    return page.render()


@cache
def _cautions() -> list[str]:
    """Read the cautions that stand on the printed sheets too."""
    text = (files("forestcycle.publish") / CAUTIONS_FILE).read_text(encoding="utf-8")
    return text.splitlines()


def _stops(day: CrewDay, way: _Way) -> Iterator[dict[str, Any]]:
    """Give rows as the page shows them, with shares as numbers for the bars."""
    metres = way.legs["metres"].to_numpy()
    for number, row in enumerate(day.rows):
        yield {
            **row,
            "terms": terms_in_words(row),
            "conductors": bool(way.conductors[number]),
            "metres": float(metres[number]) if number < len(metres) else 0.0,
            "dose": float(row["dose_percent"] or 0),
            "dose_limit": float(row["dose_limit_percent"] or 0),
        }


def _drawn(day: CrewDay, way: _Way, crs: Any) -> dict[str, Any]:  # noqa: ANN401 - as pyproj's
    points = world_units(day.points[:, 0], day.points[:, 1], crs)
    lines = way.legs.geometry
    drawn = lines[lines.notna()]
    packed = dict(zip(drawn.index, paths(drawn), strict=True)) if len(drawn) else {}
    return {
        "id": day.date.isoformat(),
        "points": points.tolist(),
        "legs": [packed.get(index, []) for index in lines.index],
    }


def _ground(plan: PlanFolder, week: CrewWeek, settings: Publishing) -> dict[str, Any]:
    points: NDArray[np.float64] = np.concatenate([day.points for day in week.days])
    ways = [day.way for day in week.days if day.way is not None]
    bounds = gpd.GeoSeries([*gpd.points_from_xy(*points.T), *ways]).total_bounds
    west, south, east, north = bounds + np.array([-MARGIN_M, -MARGIN_M, MARGIN_M, MARGIN_M])
    return {**backdrop(plan, around=(west, south, east, north)), "units": settings.units}


OUTPUT = Output(
    "day maps", FOLDER, write_day_maps, papers=(Paper(week_page, carried=True, of_week=True),)
)
