"""A crew's week as one page: a map and a list of stops for each day, for a phone or tablet."""

from collections.abc import Iterator, Set
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from forestcycle.publish.backdrop import Ground, backdrop, ground_of, paths, world_units
from forestcycle.publish.crew_day import CrewDay, distance
from forestcycle.publish.crew_rows import terms_in_words
from forestcycle.publish.crew_sheet import CAUTIONS_FILE
from forestcycle.publish.crew_weeks import CrewWeek, crew_weeks, write_weeks
from forestcycle.publish.names import PaperPath
from forestcycle.publish.output import Edition, Output, Paper
from forestcycle.publish.page import Drawing, OfflineMap, Page, render, script_json
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.settings.publishing import Publishing

FOLDER = "maps"
WEEK_FOLDER = f"{FOLDER}/crews"
week_page = PaperPath(WEEK_FOLDER + "/{crew} {day:%G-W%V}.html")
MARGIN_M = 250.0
"""How much of the city around the week's stops is drawn."""

LIVE_CONDUCTORS = ("low_voltage", "high_voltage")

STYLES = ["leaflet/leaflet.css", "site.css", "day.css"]
SCRIPTS = ["leaflet/leaflet.js", "backdrop.js", "day.js"]


@dataclass(frozen=True)
class _Way:
    """What a crew-day's list does not hold.

    Attributes
    ----------
    metres : float64 (k,)
        Of each leg.
    lines : (k,) array of LineString or None
        Its course.
    conductors : bool (m,)
        Which stops stand under live conductors.
    """

    metres: NDArray[np.float64]
    lines: NDArray[np.object_]
    conductors: NDArray[np.bool_]


@dataclass(frozen=True)
class _DrawnWeek:
    """A crew's week and the ways of its days, by ``crew_day_id``."""

    week: CrewWeek
    ways: dict[str, _Way]


@dataclass(frozen=True)
class _Common:
    """What all weeks have in common: the city's own layers and how to show them."""

    ground: Ground
    settings: Publishing


def write_day_maps(edition: Edition) -> list[Path]:
    """Write one page per crew and week.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
    """
    plan = edition.plan
    days = edition.days_to_draw(of_week=True)
    ways = _ways(plan, {day.crew_day_id for day in days})
    weeks = {
        f"{week.crew}, {week.label}": _DrawnWeek(
            week, {day.crew_day_id: ways[day.crew_day_id] for day in week.days}
        )
        for week in crew_weeks(days)
    }
    common = _Common(ground_of(plan), settings_of(plan).publish)
    return write_weeks(edition, "day maps", _page_of_week, common, weeks)


def _ways(plan: PlanFolder, crew_days: Set[str]) -> dict[str, _Way]:
    legs = plan.legs[plan.legs["crew_day_id"].astype(str).isin(crew_days)]
    metres, lines = legs["metres"].to_numpy(), legs.geometry.to_numpy()
    rows = legs.groupby(legs["crew_day_id"].astype(str)).indices
    stops = plan.stops[plan.stops["crew_day_id"].astype(str).isin(crew_days)]
    conductors = stops["conductors"].astype(str).isin(LIVE_CONDUCTORS)
    return {
        str(name): _Way(metres[rows.get(name, [])], lines[rows.get(name, [])], group.to_numpy())
        for name, group in conductors.groupby(stops["crew_day_id"].astype(str))
    }


def _page_of_week(common: _Common, drawn: _DrawnWeek) -> dict[str, bytes]:
    week = drawn.week
    page = week_page(week.crew, week.days[0].date)
    return {page: _week_html(common, week, drawn.ways).encode()}


def _week_html(common: _Common, week: CrewWeek, ways: dict[str, _Way]) -> str:
    settings = common.settings
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
    page.add_data("ground", script_json(_ground(common, week)))
    page.add_data(
        "days",
        script_json([_drawn(day, ways[day.crew_day_id], common.ground.crs) for day in week.days]),
    )
    return page.render()


@cache
def _cautions() -> list[str]:
    """Read the cautions that stand on the printed sheets too."""
    text = (files("forestcycle.publish") / CAUTIONS_FILE).read_text(encoding="utf-8")
    return text.splitlines()


def _stops(day: CrewDay, way: _Way) -> Iterator[dict[str, Any]]:
    """Give rows as the page shows them, with shares as numbers for the bars."""
    for number, row in enumerate(day.rows):
        yield {
            **row,
            "terms": terms_in_words(row),
            "conductors": bool(way.conductors[number]),
            "metres": float(way.metres[number]) if number < len(way.metres) else 0.0,
            "dose": float(row["dose_percent"] or 0),
            "dose_limit": float(row["dose_limit_percent"] or 0),
        }


def _drawn(day: CrewDay, way: _Way, crs: Any) -> dict[str, Any]:  # noqa: ANN401 - as pyproj's
    points = world_units(day.points[:, 0], day.points[:, 1], crs)
    there = shapely.is_geometry(way.lines)
    packed = iter(paths(gpd.GeoSeries(way.lines[there], crs=crs)) if there.any() else ())
    return {
        "id": day.date.isoformat(),
        "points": points.tolist(),
        "legs": [next(packed) if drawn else [] for drawn in there],
    }


def _ground(common: _Common, week: CrewWeek) -> dict[str, Any]:
    ways = shapely.get_coordinates([day.way for day in week.days])
    points: NDArray[np.float64] = np.concatenate([*(day.points for day in week.days), ways])
    west, south = points.min(axis=0) - MARGIN_M
    east, north = points.max(axis=0) + MARGIN_M
    shown = backdrop(common.ground, around=(west, south, east, north))
    return {**shown, "units": common.settings.units}


OUTPUT = Output(
    "day maps",
    FOLDER,
    write_day_maps,
    by_workers=True,
    papers=(Paper(week_page, carried=True, of_week=True),),
)
