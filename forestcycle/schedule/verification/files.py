"""The files of a plan, read back."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from numpy.typing import NDArray

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.layout import refuse_later_plan
from forestcycle.settings import CycleSettings

NEEDED = {
    "trees": (
        "tree_id fund ward dose dose_limit not_before deadline priority minutes skill cost_cents "
        "mandatory planned_on crew_day_id reason place closed_windows target street height_m "
        "brush_kg"
    ),
    "stops": (
        "crew_day_id crew date stop_order tree_id arrive_minute travel_minutes service_minutes "
        "dose cost_cents place"
    ),
    "crew_days": (
        "crew_day_id crew date depot capacity_minutes service_minutes travel_minutes free_minutes "
        "stops cost_cents use"
    ),
    "legs": "crew_day_id leg_order from_node to_node minutes metres",
    "prices": "kind key price",
    "round_trips": "place depot minutes out_minutes stop_minutes",
    "run": "key value",
}
OPTIONAL = ("streets", "depots", "done", "route_prices", "ways")
MOST_FAULTS_OF_A_RULE = 10
NOT_PLANNABLE = ("storm reserve", "emergency", "lost")
"""Uses of a crew-day on which no stop may be planned."""


@dataclass(frozen=True)
class PlanFiles:
    """Tables of a plan, with its settings and its summary if there is one."""

    tables: dict[str, pd.DataFrame]
    settings: CycleSettings
    facts: dict[str, str]
    summary: dict[str, Any] | None

    @property
    def trees(self) -> pd.DataFrame:
        """Every usable tree, indexed by ``tree_id``."""
        return self.tables["trees"]

    @property
    def stops(self) -> pd.DataFrame:
        """Stops, sorted by crew-day and order."""
        return self.tables["stops"]

    @property
    def crew_days(self) -> pd.DataFrame:
        """Crew-days, indexed by ``crew_day_id``."""
        return self.tables["crew_days"]

    @property
    def revised_from(self) -> pd.Timestamp:
        """First day that was still open when the plan was last revised."""
        return pd.Timestamp(self.facts.get("revised_from", self.settings.city.year_start))

    @property
    def made(self) -> pd.Series:
        """Whether each stop was made when the plan was revised: past ones, and those told of."""
        done = self.tables.get("done")
        told = set() if done is None else set(done.loc[done["in_plan"].astype(bool), "tree_id"])
        return (self.stops["date"] < self.revised_from) | self.stops["tree_id"].isin(told)

    @property
    def done_aside(self) -> pd.DataFrame:
        """Visits made this year that are no stops: ``fund cost_cents day_cost_cents``."""
        done = self.tables.get("done")
        if done is None:
            return pd.DataFrame({"fund": [], "cost_cents": [], "day_cost_cents": []})
        return done[~done["in_plan"].astype(bool)]

    @property
    def legs(self) -> gpd.GeoDataFrame:
        """Legs, sorted by crew-day and order."""
        return self.tables["legs"]

    def tree_of_stop(self, column: str) -> pd.Series:
        """Look up a column of the trees layer for each stop; missing where it has no tree.

        Parameters
        ----------
        column : str

        Returns
        -------
        Series
            One entry per row of ``stops``.
        """
        trees = self.trees[~self.trees.index.duplicated()]
        return trees[column].reindex(self.stops["tree_id"]).set_axis(self.stops.index)

    def crew_day_of_stop(self, column: str) -> pd.Series:
        """Look up a column of the crew-days layer for each stop.

        Parameters
        ----------
        column : str

        Returns
        -------
        Series
            One entry per row of ``stops``; missing where it has no crew-day.
        """
        days = self.crew_days[~self.crew_days.index.duplicated()]
        return days[column].reindex(self.stops["crew_day_id"]).set_axis(self.stops.index)


def read_plan(path: Path) -> PlanFiles:
    """Read a plan's folder, or its GeoPackage alone.

    Parameters
    ----------
    path : Path
        Folder with ``plan.gpkg`` and perhaps ``summary.json``, or the file.

    Returns
    -------
    PlanFiles

    Raises
    ------
    StoreError
        If a table, a column or a closed window is missing or cannot be read.
    """
    file = path / "plan.gpkg" if path.is_dir() else path
    try:
        refuse_later_plan(file)
        present = {str(name) for name, _ in pyogrio.list_layers(file)}
        tables = {name: _read(file, name) for name in [*NEEDED, *OPTIONAL] if name in present}
    except StoreError:
        raise
    except (OSError, pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        raise StoreError(Fault(f"cannot be read: {error}", str(file))) from error
    missing = [
        Fault(f"has no {what}", f"{file.name}: {name}", "write the plan again")
        for name, columns in NEEDED.items()
        for what in _missing(tables.get(name), columns.split())
    ]
    wrong = missing or _unreadable_windows(tables["trees"], file.name)
    if wrong:
        raise StoreError(wrong)
    run = tables["run"].set_index("key")["value"]
    summary = file.parent / "summary.json"
    return PlanFiles(
        tables=tables
        | {
            "trees": tables["trees"].set_index("tree_id", drop=False),
            "crew_days": tables["crew_days"].set_index("crew_day_id", drop=False),
            "stops": tables["stops"].sort_values(["crew_day_id", "stop_order"], ignore_index=True),
            "legs": tables["legs"].sort_values(["crew_day_id", "leg_order"], ignore_index=True),
        },
        settings=CycleSettings.model_validate_json(str(run["settings"])),
        facts={str(key): str(value) for key, value in run.items()},
        summary=json.loads(summary.read_text("utf-8")) if summary.exists() else None,
    )


def _read(file: Path, layer: str) -> pd.DataFrame:
    columns = NEEDED[layer].split() if layer == "trees" else None  # it has many more, mostly text
    table: pd.DataFrame = pyogrio.read_dataframe(file, layer=layer, columns=columns)
    for name in set(table.columns) & {"date", "not_before", "deadline", "planned_on"}:
        table[name] = pd.to_datetime(table[name])
    for name in set(table.columns) & {
        "closed_windows",
        "crew_day_id",
        "reason",
        "fund",
        "ward",
        "key",
    }:
        table[name] = table[name].fillna("").astype(str)
    return table


def _unreadable_windows(trees: pd.DataFrame, name: str) -> list[Fault]:
    faults = []
    for text in trees["closed_windows"].unique():
        try:
            closed_windows(text)
        except ValueError:
            what = f"closed windows {text!r} cannot be read"
            faults.append(Fault(what, f"{name}: trees", "write the plan again"))
    return faults


def _missing(table: pd.DataFrame | None, columns: list[str]) -> list[str]:
    if table is None:
        return ["such table"]
    return [f"column {name!r}" for name in columns if name not in table.columns]


def closed_windows(text: str) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Read ``2027-04-01/2027-05-15 spring flush; ...``, both days included.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of (first day, last day)

    Raises
    ------
    ValueError
        If the text is not of that form.
    """
    spans = [part.split()[0].split("/") for part in text.split(";") if part.strip()]
    return [(pd.Timestamp(first), pd.Timestamp(last)) for first, last in spans]


def faults_where(
    wrong: "pd.Series | NDArray[np.bool_]", names: pd.Series, what: str, where: str
) -> list[Fault]:
    """Make one fault for each of the first rows that break a rule, and one for the rest.

    Parameters
    ----------
    wrong : (n,) bool
    names : (n,) Series
        What to call each row.
    what, where : str
        The broken rule, and the layer.

    Returns
    -------
    list of Fault
    """
    rows = np.flatnonzero(np.asarray(wrong, dtype=np.bool_))
    shown = [Fault(what, f"{where} {names.iloc[row]}") for row in rows[:MOST_FAULTS_OF_A_RULE]]
    rest = len(rows) - len(shown)
    return [*shown, Fault(f"{what}: {rest:,} more", where)] if rest else shown
