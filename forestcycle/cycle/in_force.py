"""The plan in force, as its folder tells it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd
import pyogrio

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.layout import refuse_later_plan
from forestcycle.inventory.schema import DATE, FLOAT, TEXT, TRUTH, WHOLE, Columns, empty_table
from forestcycle.publish.plan_folder import PLAN_FILE
from forestcycle.settings import CycleSettings

LOST, EMERGENCY = "lost", "emergency"
"""Uses of a crew-day on which nothing can be planned, besides the storm reserve."""

TABLES: Mapping[str, Columns] = {
    "lost_days": {"crew": TEXT, "date": DATE, "use": TEXT},
    "done": {
        "tree_id": TEXT,
        "visited_on": DATE,
        "crew": TEXT,
        "outcome": TEXT,
        "fund": TEXT,
        "worth": FLOAT,
        "cost_cents": WHOLE,
        "day_cost_cents": WHOLE,
        "in_plan": TRUTH,
    },
    "changes": {
        "change": WHOLE,
        "at": TEXT,
        "command": TEXT,
        "from_day": TEXT,
        "facts": TEXT,
        "input_sha256": TEXT,
        "moved": WHOLE,
        "left": WHOLE,
        "came": WHOLE,
        "undoes": WHOLE,
    },
}
"""Tables that a revision adds to ``plan.gpkg``."""
NEEDED = ("trees", "stops", "crew_days", "prices", "run")


@dataclass(frozen=True)
class PlanInForce:
    """What a revision needs to know of the plan that it revises.

    Attributes
    ----------
    folder : Path
    settings : CycleSettings
        Under which it was made.
    trees, stops, crew_days, prices : DataFrame
        As in ``plan.gpkg``, without geometry; ``trees`` by ``tree_id``,
        ``crew_days`` by ``crew_day_id``.
    lost_days, done, changes : DataFrame
        Of earlier revisions; empty without any.
    worth : float
    bound : float
    revised_from : date or None
        Of the last revision.
    """

    folder: Path
    settings: CycleSettings
    trees: pd.DataFrame
    stops: pd.DataFrame
    crew_days: pd.DataFrame
    prices: pd.DataFrame
    lost_days: pd.DataFrame
    done: pd.DataFrame
    changes: pd.DataFrame
    worth: float
    bound: float
    revised_from: date | None


def read_plan_in_force(folder: Path) -> PlanInForce:
    """Read the plan to revise.

    Parameters
    ----------
    folder : Path
        With ``plan.gpkg``.

    Returns
    -------
    PlanInForce

    Raises
    ------
    StoreError
        If there is none, or it cannot be read.
    """
    file = folder / PLAN_FILE
    if not file.exists():
        remedy = "name the plan's folder with --plan, or make one with 'forestcycle plan'"
        raise StoreError(Fault("there is no plan here", str(file), remedy))
    try:
        refuse_later_plan(file)
        present = {str(name) for name, _ in pyogrio.list_layers(file)}
        missing = [name for name in NEEDED if name not in present]
        if missing:
            fault = Fault(f"has no table {', '.join(missing)}", str(file), "plan again")
            raise StoreError(fault)
        tables = {name: _read(file, name) for name in (*NEEDED, *TABLES) if name in present}
        run = dict(zip(tables["run"]["key"], tables["run"]["value"], strict=True))
        return _plan_of(folder, tables, run)
    except StoreError:
        raise
    except (
        pyogrio.errors.DataSourceError,
        RuntimeError,
        ValueError,
        KeyError,
        TypeError,
    ) as error:
        raise StoreError(Fault(f"cannot be read: {error}", str(file), "plan again")) from error


def _plan_of(folder: Path, tables: dict[str, pd.DataFrame], run: dict[str, object]) -> PlanInForce:
    known = {
        name: _typed(tables[name], columns) if name in tables else empty_table(columns)
        for name, columns in TABLES.items()
    }
    revised = run.get("revised_from")
    for name, key in (("trees", "tree_id"), ("stops", "tree_id"), ("crew_days", "crew_day_id")):
        if tables[name][key].duplicated().any():
            raise ValueError(f"{name} holds a {key} twice")
    return PlanInForce(
        folder=folder,
        settings=CycleSettings.model_validate_json(str(run["settings"])),
        trees=tables["trees"].set_index("tree_id", drop=False),
        stops=tables["stops"].sort_values(["crew_day_id", "stop_order"], ignore_index=True),
        crew_days=tables["crew_days"].set_index("crew_day_id", drop=False),
        prices=tables["prices"],
        worth=float(str(run["worth"])),
        bound=float(str(run["bound"])),
        revised_from=None if revised is None else date.fromisoformat(str(revised)),
        **known,
    )


def _read(file: Path, layer: str) -> pd.DataFrame:
    table = pd.DataFrame(pyogrio.read_dataframe(file, layer=layer, read_geometry=False))
    for name in set(table.columns) & {"date", "not_before", "deadline", "planned_on", "due"}:
        table[name] = pd.to_datetime(table[name])
    for name in set(table.columns) & {"crew_day_id", "reason", "fund", "key", "tree_id", "crew"}:
        table[name] = table[name].fillna("").astype(str)
    return table


def _typed(table: pd.DataFrame, columns: Columns) -> pd.DataFrame:
    table = table[list(columns)].copy()
    for name, dtype in columns.items():
        if dtype == TEXT:
            table[name] = table[name].astype(object).fillna("")
    return table.astype(dict(columns))
