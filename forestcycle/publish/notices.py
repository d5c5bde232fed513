"""Parking and residents' notices: which block, which day, to be posted by when."""

from pathlib import Path

import pandas as pd

from forestcycle.publish.blocks import blocks_of
from forestcycle.publish.crew_lists import write_csv
from forestcycle.publish.output import Edition, Link, Output, Tables
from forestcycle.publish.plan_folder import PlanFolder
from forestcycle.publish.plan_settings import settings_of
from forestcycle.publish.text import inert_cells, plain_column

FOLDER = "notices"
NOTICES = f"{FOLDER}/notices.csv"
TEXT_COLUMNS = ("street", "block", "ward", "addresses", "crew", "message")
COLUMNS = (
    "post_by",
    "date",
    "street",
    "block",
    "ward",
    "from",
    "until",
    "addresses",
    "trees",
    "crew",
    "message",
)


def write_notices(edition: Edition) -> list[Path]:
    """Write ``notices/notices.csv``.

    Parameters
    ----------
    edition : Edition

    Returns
    -------
    list of Path
    """
    table = notices(edition.plan)
    for column in TEXT_COLUMNS:
        table[column] = inert_cells(table[column])
    path = edition.folder / NOTICES
    write_csv(path, table)
    return [path]


def notices(plan: PlanFolder) -> pd.DataFrame:
    """List the notices to be posted, one per block, day and crew.

    Parameters
    ----------
    plan : PlanFolder

    Returns
    -------
    DataFrame
        ``COLUMNS``, by ``post_by``: the last day on which the notice must hang,
        ``publish.notice_days`` before the work. ``from`` and ``until`` are rounded out to whole
        hours, since a day in the field runs early or late.
    """
    settings = settings_of(plan)
    stops = plan.stops
    street = plain_column(stops["street"]).tolist()
    rows = pd.DataFrame(
        {
            "date": stops["date"],
            "street": street,
            "block": blocks_of(stops.geometry.to_numpy(), street, plan.streets),
            "crew": plain_column(stops["crew"]),
            "ward": plain_column(stops["ward"]),
            "from": stops["arrive"].astype(str).str[:2] + ":00",
            "until": _hour_after(stops["leave"].astype(str)),
            "address": plain_column(stops["address"]),
        }
    )
    keys = ["date", "street", "block", "crew"]
    blocks = rows.groupby(keys, sort=True).agg(
        ward=("ward", "first"),
        **{"from": ("from", "min"), "until": ("until", "max")},
        addresses=("address", _addresses),
        trees=("address", "size"),
    )
    table = blocks.reset_index()
    post_by = table["date"] - pd.Timedelta(days=settings.publish.notice_days)
    table["message"] = [
        message(day, street, block, start, end)
        for day, street, block, start, end in zip(
            table["date"],
            table["street"],
            table["block"],
            table["from"],
            table["until"],
            strict=True,
        )
    ]
    table.insert(0, "post_by", post_by.dt.strftime("%Y-%m-%d"))
    table["date"] = table["date"].dt.strftime("%Y-%m-%d")
    return table[list(COLUMNS)].sort_values(["post_by", "street", "from"], ignore_index=True)


def _hour_after(clock: pd.Series) -> pd.Series:
    hour = clock.str[:2].astype(int) + (clock.str[3:5] != "00")
    return hour.map("{:02d}:00".format)


def _addresses(addresses: pd.Series) -> str:
    """All different addresses of a block, numbers in order."""
    different = sorted(set(addresses) - {""}, key=_by_number)
    return "; ".join(different)


def _by_number(address: str) -> tuple[int, str]:
    digits = "".join(c for c in address.split(" ")[0] if c.isdecimal())
    return (int(digits) if digits else 0, address)


def message(day: pd.Timestamp, street: str, block: str, start: str, end: str) -> str:
    """Word a notice.

    Parameters
    ----------
    day : Timestamp
    street, block, start, end : str

    Returns
    -------
    str
    """
    where = f"{street} {block}".strip() or "this street"
    return (
        f"Tree pruning on {day:%A} {day.day} {day:%B %Y} between about {start} and {end}: "
        f"{where}. Please leave the kerb under the trees free of vehicles on that day and keep "
        "out of the marked work area. Weather or storms may move the date."
    )


OUTPUT = Output(
    "notices",
    FOLDER,
    write_notices,
    links=(
        Link(
            NOTICES,
            "Notices",
            "Who to tell about parking and work, block by block, and when.",
            rank=60,
        ),
    ),
    tables=Tables(
        "`notices/notices.csv`", "One row per block, day and crew.", {"notices": NOTICES}
    ),
)
