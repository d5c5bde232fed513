"""Read a plan's folder: ``plan.gpkg`` and ``summary.json`` into one object."""

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from shapely.errors import GEOSException

from forestcycle.errors import Fault, StoreError
from forestcycle.inventory.layout import refuse_later_plan
from forestcycle.publish.plan_summary import read_summary

PLAN_FILE = "plan.gpkg"
SUMMARY_FILE = "summary.json"

TREE_COLUMNS = str.split(
    "tree_id species common_name dbh_cm condition conductors target fund street address ward "
    "age_class growth_cm_per_year worst_defect severity defects_are_prior dose_needed dose "
    "dose_limit visits_needed not_before due overdue_after recall_state priority "
    "priority_waiting priority_overdue priority_target priority_request minutes "
    "brush_kg skill cost_cents work note cautions mandatory deadline planned_on "
    "crew_day_id reason reason_text"
)
STOP_COLUMNS = str.split(
    "crew_day_id crew date stop_order tree_id species common_name street address ward dbh_cm "
    "age_class arrive leave arrive_minute travel_minutes service_minutes dose dose_limit work note "
    "cautions priority not_before due overdue_after cost_cents fund skill brush_kg conductors "
    "place visits_needed"
)
CREW_DAY_COLUMNS = str.split(
    "crew_day_id crew date depot start_minute capacity_minutes service_minutes travel_minutes "
    "free_minutes stops cost_cents use"
)
LEG_COLUMNS = str.split("crew_day_id leg_order from_node to_node minutes metres")
REQUIRED = {
    "trees": TREE_COLUMNS,
    "stops": STOP_COLUMNS,
    "crew_days": CREW_DAY_COLUMNS,
    "legs": LEG_COLUMNS,
    "run": ["key", "value"],
}
NUMBERS = frozenset(
    str.split(
        "stop_order arrive_minute travel_minutes service_minutes dose dose_limit priority "
        "cost_cents place visits_needed start_minute capacity_minutes free_minutes stops "
        "leg_order minutes metres"
    )
)
"""Columns of stops, crew-days and legs without which a line of them says nothing."""
REMEDY = "'forestcycle plan cycle.toml --out DIR' writes such a folder"
DATE_COLUMNS = ("date", "not_before", "due", "overdue_after", "deadline", "planned_on")
MOST_DISTINCT = 0.5
"""A tree column with fewer distinct texts than this share of its rows is kept as categories."""


@dataclass(frozen=True)
class PlanFolder:
    """Everything that the outputs are made from, as it lies in a plan's folder.

    All layers share one projected CRS in metres; dates are ``datetime64``, a
    text that is missing is the empty text. ``docs/design.md``, door 5, lists the
    columns. Text in ``trees`` that repeats is categorical, to save memory.

    Attributes
    ----------
    path : Path
        The folder.
    trees : GeoDataFrame
        Every usable tree, planned or not; ``planned_on`` is NaT where it is not.
    stops : GeoDataFrame
        Ordered by date, crew and ``stop_order``.
    crew_days : GeoDataFrame
        Ordered by date and crew; the geometry is the route, None if unused.
    legs : GeoDataFrame
        Ordered by crew-day and ``leg_order``; one more per crew-day than it has stops.
    streets, wards, depots, parks : GeoDataFrame or None
        The backdrop, as far as the city has it.
    run : dict of str to str
        Settings, versions, seed and hashes of the run.
    summary : dict
        ``summary.json``.
    """

    path: Path
    trees: gpd.GeoDataFrame
    stops: gpd.GeoDataFrame
    crew_days: gpd.GeoDataFrame
    legs: gpd.GeoDataFrame
    streets: gpd.GeoDataFrame | None
    wards: gpd.GeoDataFrame | None
    depots: gpd.GeoDataFrame | None
    parks: gpd.GeoDataFrame | None
    run: dict[str, str]
    summary: dict[str, Any]


def read_plan_folder(path: Path | str) -> PlanFolder:
    """Read a plan's folder.

    Parameters
    ----------
    path : Path or str
        A folder that ``forestcycle plan`` wrote.

    Returns
    -------
    PlanFolder

    Raises
    ------
    StoreError
        With every file, layer and column that is missing or spoilt.
    """
    path = Path(path)
    with _as_plan(path / PLAN_FILE):
        return _read(path, _check(path))


def read_plan_layer(folder: Path, name: str, **options: Any) -> pd.DataFrame:  # noqa: ANN401 - pyogrio's
    """Read one layer of a plan as it lies in the file.

    Parameters
    ----------
    folder : Path
        The plan's.
    name : str
        Of the layer.
    **options
        Further arguments of ``pyogrio.read_dataframe``.

    Returns
    -------
    DataFrame or GeoDataFrame

    Raises
    ------
    StoreError
        If it cannot be read.
    """
    file = folder / PLAN_FILE
    try:
        refuse_later_plan(file)
        return pyogrio.read_dataframe(file, layer=name, **options)  # type: ignore[no-any-return]
    except (RuntimeError, ValueError) as error:
        raise StoreError(
            Fault(f"cannot be read: {error}", f"{file}, layer {name}", REMEDY)
        ) from error


@contextlib.contextmanager
def _as_plan(plan: Path) -> Iterator[None]:
    """Say of a damaged file that it is one."""
    try:
        yield
    except (RuntimeError, ValueError, TypeError, KeyError, GEOSException) as error:
        what = f"does not hold what a plan holds: {' '.join(str(error).split())}"
        raise StoreError(Fault(what, str(plan), REMEDY)) from error


def _read(path: Path, layers: set[str]) -> PlanFolder:
    plan = path / PLAN_FILE

    def frame(layer: str) -> Any:  # noqa: ANN401 - a GeoDataFrame where the layer has geometry
        columns = TREE_COLUMNS if layer == "trees" else None
        tidy = _tidy(pyogrio.read_dataframe(plan, layer=layer, columns=columns))
        _require_numbers(plan, layer, tidy)
        return _compact(tidy) if layer == "trees" else tidy

    def backdrop(layer: str) -> gpd.GeoDataFrame | None:
        found = frame(layer) if layer in layers else None
        return found if found is not None and len(found) else None

    run = frame("run").astype(str)
    return PlanFolder(
        path=path,
        trees=frame("trees"),
        stops=_ordered(frame("stops"), ["date", "crew", "stop_order"]),
        crew_days=_ordered(frame("crew_days"), ["date", "crew"]),
        legs=_ordered(frame("legs"), ["crew_day_id", "leg_order"]),
        streets=backdrop("streets"),
        wards=backdrop("wards"),
        depots=backdrop("depots"),
        parks=backdrop("parks"),
        run=dict(zip(run["key"], run["value"], strict=True)),
        summary=read_summary(path / SUMMARY_FILE),
    )


def _require_numbers(plan: Path, layer: str, frame: pd.DataFrame) -> None:
    if layer not in ("stops", "crew_days", "legs"):
        return
    figures = frame[[name for name in frame.columns if name in NUMBERS]]
    numbers = figures.apply(pd.to_numeric, errors="coerce")
    spoilt = figures.columns[~np.isfinite(numbers.astype(float)).all()].tolist()
    if "date" in frame and frame["date"].isna().any():
        spoilt.append("date")
    if spoilt:
        where = f"{plan}: layer {layer}"
        raise StoreError([Fault(f"column {name!r} is spoilt", where, REMEDY) for name in spoilt])


def _check(path: Path) -> set[str]:
    missing = [
        Fault("no such file", str(path / name), REMEDY)
        for name in (PLAN_FILE, SUMMARY_FILE)
        if not (path / name).is_file()
    ]
    if missing:
        raise StoreError(missing)
    plan = path / PLAN_FILE
    try:
        refuse_later_plan(plan)
        layers = {str(name) for name in pyogrio.list_layers(plan)[:, 0]}
    except pyogrio.errors.DataSourceError as error:
        raise StoreError(Fault(f"cannot be read: {error}", str(plan), REMEDY)) from None
    faults = []
    for layer, columns in REQUIRED.items():
        if layer not in layers:
            faults.append(Fault(f"layer {layer!r} is missing", str(plan), REMEDY))
            continue
        present = set(pyogrio.read_info(plan, layer=layer)["fields"])
        faults += [
            Fault(f"column {column!r} is missing", f"{plan}: layer {layer}", REMEDY)
            for column in columns
            if column not in present
        ]
    if faults:
        raise StoreError(faults)
    return layers


def _tidy(frame: pd.DataFrame) -> pd.DataFrame:
    """Dates as dates, and missing text as the empty text."""
    for column in frame.columns.drop("geometry", errors="ignore"):
        values = frame[column]
        if column in DATE_COLUMNS:
            frame[column] = pd.to_datetime(values, errors="coerce").dt.tz_localize(None)
        elif pd.api.types.is_string_dtype(values.dtype) or values.dtype == object:
            frame[column] = values.fillna("").astype(str)
    return frame


def _compact(frame: pd.DataFrame) -> pd.DataFrame:
    """Keep text that repeats as categories: a million trees share few streets and reasons."""
    for column in frame.columns.drop("geometry", errors="ignore"):
        values = frame[column]
        if pd.api.types.is_string_dtype(values.dtype):
            categories = values.astype("category")
            if len(categories.cat.categories) < MOST_DISTINCT * len(values):
                frame[column] = categories
    return frame


def _ordered(frame: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    return frame.sort_values(columns, kind="stable").reset_index(drop=True)
