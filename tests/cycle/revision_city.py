"""A small city with a plan, and what happens to it."""

import shutil
from datetime import date
from pathlib import Path

import pandas as pd
import pyogrio
from pyogrio import list_layers

from forestcycle.cycle import open_city, plan_city, record_returns, revise_city
from forestcycle.cycle.revision_facts import Facts
from sample_city.city import make_city, write_city
from tests.fieldwork.field_season import COLUMNS

FROM = date(2027, 3, 1)
LATER = date(2027, 12, 31)
SETTINGS = """
[city]
name = "Quellhaven"
inventory = "city.gpkg"
year_start = 2027-01-01
year_end = 2027-12-31

[layers]
trees = "trees"
streets = "streets"
wards = "wards"
depots = "depots"

[trees.fields]
tree_id = "tree_id"
species = "species"
dbh = "dbh_cm"
fund = "fund"
street = "street"

[calendar]
storm_reserve = 0.1

[[crews]]
name = "One"
depot = "North Yard"
skills = ["ground", "climb", "lift", "line_clearance"]
shift_minutes = 240
most_days = 12
day_cost_cents = 50000

[[crews]]
name = "Two"
depot = "North Yard"
skills = ["ground"]
shift_minutes = 240
most_days = 12
day_cost_cents = 40000

[budget]
year_cents = 3000000
"""


def make_planned_city(folder: Path) -> Path:
    """Write a city of 300 trees and its plan."""
    folder.mkdir(parents=True, exist_ok=True)
    write_city(make_city(trees=300, seed=4), folder / "city.gpkg")
    (folder / "cycle.toml").write_text(SETTINGS)
    plan_city(open_city(folder / "cycle.toml"), folder / "plan", rounds=2, seed=1)
    return folder


def copy_of(city: Path, to: Path) -> Path:
    shutil.copytree(city, to, dirs_exist_ok=True)
    return to


def revise(city: Path, from_day: date = FROM, **changes):
    locks = changes.pop("locks", None)
    return revise_city(
        open_city(city / "cycle.toml"),
        city / "plan",
        Facts(from_day, **changes),
        locks=locks,
        rounds=2,
    )


def table(city: Path, name: str, folder: str = "plan") -> pd.DataFrame:
    frame = pyogrio.read_dataframe(city / folder / "plan.gpkg", layer=name, read_geometry=False)
    if "date" in frame:
        frame["date"] = pd.to_datetime(frame["date"])
    return frame


def visits(city: Path, folder: str = "plan") -> list[tuple[str, str, int]]:
    stops = table(city, "stops", folder)
    rows = stops[["tree_id", "crew_day_id", "stop_order"]].itertuples(index=False, name=None)
    return sorted(rows)


def done(stops: pd.DataFrame, **changes) -> pd.DataFrame:
    """Returns that say that stops were made as planned, but for the changes."""
    told = pd.DataFrame(
        {
            "tree_id": stops["tree_id"],
            "visited_on": stops["date"].dt.strftime("%Y-%m-%d"),
            "crew": stops["crew"],
            "outcome": "done",
            "minutes": stops["service_minutes"].round(),
            "dose": stops["dose"],
        }
    )
    return told.assign(**changes)[COLUMNS]


def fell(city: Path, trees: list[str]) -> None:
    """Take trees out of the inventory."""
    path = city / "city.gpkg"
    layers = {name: pyogrio.read_dataframe(path, layer=name) for name, _ in list_layers(path)}
    layers["trees"] = layers["trees"][~layers["trees"]["tree_id"].isin(trees)]
    path.unlink()
    for name, layer in layers.items():
        pyogrio.write_dataframe(layer, path, layer=name, driver="GPKG")


def record(city: Path, returns: pd.DataFrame, name: str = "returns.csv"):
    returns.to_csv(city / name, index=False)
    settings = city / "cycle.toml"
    return record_returns(open_city(settings), city / name, today=LATER)
