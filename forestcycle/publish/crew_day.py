"""One crew's day with all that its sheet, route and calendar say."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from forestcycle.practice.measures import KG_PER_POUND, METRES_PER_MILE
from forestcycle.publish.crew_rows import crew_rows
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.text import plain


@dataclass(frozen=True)
class CrewDay:
    """A used crew-day.

    Attributes
    ----------
    crew_day_id, crew : str
        As the plan has them: names of files come from these.
    crew_shown, depot : str
        Plain text.
    date : date
    leaves, returns : str
        Clock times at the depot, ``07:30``.
    rows : list of dict
        One per stop, in order, with the columns of
        `forestcycle.publish.crew_rows.crew_rows` and ``travel_minutes``, all as text.
    points : float64 (k, 2)
        The stops in metres.
    way : LineString or None
        From the depot over all stops and back.
    service_minutes, travel_minutes, free_minutes : float
    metres : float
        Length of the way.
    brush_kg : float
    """

    crew_day_id: str
    crew: str
    crew_shown: str
    depot: str
    date: date
    leaves: str
    returns: str
    rows: list[dict[str, str]]
    points: NDArray[np.float64]
    way: shapely.LineString | None
    service_minutes: float
    travel_minutes: float
    free_minutes: float
    metres: float
    brush_kg: float

    @property
    def date_shown(self) -> str:
        """Weekday and date in words."""
        return f"{self.date:%A} {self.date.day} {self.date:%B %Y}"


def used_crew_days(plan: PlanFolder) -> list[CrewDay]:
    """List the crew-days that have stops, by date and crew.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    list of CrewDay
    """
    rows = crew_rows(plan)
    rows["travel_minutes"] = np.ceil(plan.stops["travel_minutes"].to_numpy() - 1e-6).astype(int)
    texts = rows.astype(str).to_dict("records")
    points = shapely.get_coordinates(plan.stops.geometry.array)
    brush = plan.stops["brush_kg"].fillna(0).to_numpy()
    arrive, travel, service = (
        plan.stops[name].to_numpy()
        for name in ("arrive_minute", "travel_minutes", "service_minutes")
    )
    legs = plan.legs.groupby(plan.legs["crew_day_id"].astype(str))
    metres, home = legs["metres"].sum(), legs["minutes"].last()
    where = plan.stops.groupby(plan.stops["crew_day_id"].astype(str), sort=False).indices
    days = []
    for day in plan.crew_days.to_dict("records"):
        key = str(day["crew_day_id"])
        if key not in where:
            continue
        stops = where[key]
        days.append(
            CrewDay(
                crew_day_id=key,
                crew=str(day["crew"]),
                crew_shown=plain(str(day["crew"])),
                depot=plain(str(day["depot"])),
                date=pd.Timestamp(day["date"]).date(),
                leaves=clock(arrive[stops[0]] - travel[stops[0]]),
                returns=clock(arrive[stops[-1]] + service[stops[-1]] + home.get(key, 0.0)),
                rows=[texts[k] for k in stops],
                points=points[stops],
                way=day["geometry"],
                service_minutes=float(day["service_minutes"]),
                travel_minutes=float(day["travel_minutes"]),
                free_minutes=float(day["free_minutes"]),
                metres=float(metres.get(key, 0.0)),
                brush_kg=float(brush[stops].sum()),
            )
        )
    return days


def day_figures(day: CrewDay, units: str) -> str:
    """Sum a crew-day up in one line.

    Parameters
    ----------
    day : CrewDay
    units : {"metric", "us"}

    Returns
    -------
    str
    """
    return " · ".join(
        (
            f"{len(day.rows)} trees" if len(day.rows) != 1 else "1 tree",
            f"{day.service_minutes:.0f} min at trees",
            f"{day.travel_minutes:.0f} min driving and parking",
            f"{day.free_minutes:.0f} min spare",
            distance(day.metres, units),
            f"about {weight(day.brush_kg, units)} of brush",
        )
    )


def clock(minute: float) -> str:
    """Write a minute of the day as a clock time.

    Parameters
    ----------
    minute : float

    Returns
    -------
    str
        ``07:30``; rounded down to the minute, as the stops' times are.
    """
    whole = int(minute + 1e-6)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"


def distance(metres: float, units: str) -> str:
    """Write a distance driven.

    Parameters
    ----------
    metres : float
    units : {"metric", "us"}

    Returns
    -------
    str
    """
    return f"{metres / METRES_PER_MILE:.1f} mi" if units == "us" else f"{metres / 1000:.1f} km"


def weight(kilograms: float, units: str) -> str:
    """Write a weight of brush.

    Parameters
    ----------
    kilograms : float
    units : {"metric", "us"}

    Returns
    -------
    str
    """
    return f"{kilograms / KG_PER_POUND:,.0f} lb" if units == "us" else f"{kilograms:,.0f} kg"
