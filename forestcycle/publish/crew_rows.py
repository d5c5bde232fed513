"""The stops as a crew reads them: one table behind the lists, sheets, routes and calendars."""

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from forestcycle.practice.measures import CM_PER_INCH
from forestcycle.practice.percent import dose_percent, limit_percent
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import plain_column

BLANKS = ("done", "actual_minutes", "dose_taken_percent", "initials", "remarks")
"""Columns that the crew fills in."""


def diameter_column(units: str) -> str:
    """Name the diameter column by the city's units.

    Parameters
    ----------
    units : {"metric", "us"}

    Returns
    -------
    str
    """
    return "dbh_in" if units == "us" else "dbh_cm"


def crew_rows(plan: PlanFolder) -> pd.DataFrame:
    """Put the plan's stops into words and the city's units.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    DataFrame
        One row per stop in the order of ``plan.stops``: ``crew date stop arrive hours tree_id
        address common_name species dbh_cm`` (or ``dbh_in``) ``work dose_percent
        dose_limit_percent cautions equipment note minutes visits_left next_visit look_first``
        and the empty columns of ``BLANKS``. Dates are ISO 8601 text, diameters have at most
        one decimal, percentages and minutes are whole; ``look_first`` is ``yes`` where the
        dose is only what such trees usually need.
    """
    stops = plan.stops
    units = settings_of(plan).publish.units
    dose, limit = stops["dose"].to_numpy(), stops["dose_limit"].to_numpy()
    diameter = stops["dbh_cm"].to_numpy() / (CM_PER_INCH if units == "us" else 1.0)
    rows = pd.DataFrame(
        {
            "crew": plain_column(stops["crew"]),
            "date": stops["date"].dt.strftime("%Y-%m-%d").fillna(""),
            "stop": stops["stop_order"].astype("int64"),
            "arrive": plain_column(stops["arrive"]),
            "hours": _known(stops, "hours"),
            "tree_id": plain_column(stops["tree_id"]),
            "address": addresses(stops),
            "common_name": plain_column(stops["common_name"]),
            "species": plain_column(stops["species"]),
            diameter_column(units): [number(value) for value in diameter],
            "work": plain_column(stops["work"]),
            "dose_percent": [number(value) for value in dose_percent(dose, limit)],
            "dose_limit_percent": [number(value) for value in limit_percent(limit)],
            "cautions": plain_column(stops["cautions"]),
            "equipment": _known(stops, "equipment"),
            "note": plain_column(stops["note"]),
            "minutes": np.ceil(stops["service_minutes"].to_numpy() - 1e-6).astype(np.int64),
            "visits_left": np.maximum(stops["visits_needed"].to_numpy() - 1, 0),
            "next_visit": _next_visit(stops),
            "look_first": _look_first(stops),
        }
    )
    return rows.assign(**dict.fromkeys(BLANKS, ""))


def dose_in_words(row: Mapping[str, str]) -> str:
    """Say a row's dose: none, to be taken, or expected where the crew looks first.

    Parameters
    ----------
    row : Mapping of str to str
        With ``dose_percent`` and ``look_first``.

    Returns
    -------
    str
    """
    if row["dose_percent"] == "0":
        return "no live wood"
    return f"{'expect' if row['look_first'] else 'take'} {row['dose_percent']} %"


def terms_in_words(row: Mapping[str, str]) -> str:
    """Say a row's hours and equipment in one line.

    Parameters
    ----------
    row : Mapping of str to str
        With ``hours`` and ``equipment``.

    Returns
    -------
    str
        ``Work 09:00-14:00 only (school hours). Bring: chipper.``; empty where there are none.
    """
    when, _, rules = row["hours"].partition(" ")
    hours = f"Work {when} only ({rules})." if when else ""
    equipment = f"Bring: {row['equipment'].replace('; ', ', ')}." if row["equipment"] else ""
    return " ".join(filter(None, (hours, equipment)))


def days_of(plan: PlanFolder, rows: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.DataFrame]]:
    """Split rows by crew and day.

    Parameters
    ----------
    plan : PlanFolder
    rows : DataFrame
        One row per stop of the plan, in its order.

    Yields
    ------
    (str, str), DataFrame
        The crew's name as the plan has it, the ISO date, and that crew-day's rows. File names
        come from this name, so that two crews that only look alike stay two.
    """
    keys = [plan.stops["crew"].astype(str).to_numpy(), rows["date"].to_numpy()]
    for (crew, date), day in rows.groupby(keys, sort=False):
        yield (str(crew), str(date)), day


def addresses(trees: pd.DataFrame) -> list[str]:
    """Say where trees stand: the address, with the street where it lacks it.

    Parameters
    ----------
    trees : DataFrame
        With ``address`` and ``street``.

    Returns
    -------
    list of str
    """
    pairs = zip(plain_column(trees["address"]), plain_column(trees["street"]), strict=True)
    return [
        address if street.casefold() in address.casefold() else f"{address} {street}".strip()
        for address, street in pairs
    ]


def number(value: float) -> str:
    """Write a number with at most one decimal, and nothing for NaN.

    Parameters
    ----------
    value : float

    Returns
    -------
    str
    """
    return "" if np.isnan(value) else f"{value:.1f}".removesuffix(".0")


def _known(stops: pd.DataFrame, column: str) -> list[str]:
    return list(plain_column(stops[column])) if column in stops else [""] * len(stops)


def _look_first(stops: pd.DataFrame) -> list[str]:
    if "defects_are_prior" not in stops:
        return [""] * len(stops)
    return ["yes" if prior else "" for prior in stops["defects_are_prior"] == 1]


def _next_visit(stops: pd.DataFrame) -> list[str]:
    if "next_due" not in stops:
        return [""] * len(stops)
    return list(stops["next_due"].dt.strftime("%Y-%m-%d").fillna(""))
