"""Locks: visits that must keep their day, their crew or their order."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.cycle.in_force import PlanInForce
from forestcycle.errors import Fault, InventoryError, SettingsError, nearest_name
from forestcycle.inventory.convert import text
from forestcycle.inventory.read import layer_info, read_layer
from forestcycle.inventory.source import Source
from forestcycle.settings import CycleSettings

COLUMNS = ("day", "crew", "order")
AS_PLANNED = frozenset({"yes", "y", "x", "true", "1", "keep"})
FREE = frozenset({"", "no", "n", "false", "0", "free"})


@dataclass(frozen=True)
class Locks:
    """What may not be changed.

    Attributes
    ----------
    day : dict of str to date
        By ``tree_id``.
    crew : dict of str to str
    order : frozenset of str
    """

    day: Mapping[str, date]
    crew: Mapping[str, str]
    order: frozenset[str]


NO_LOCKS = Locks({}, {}, frozenset())


def read_locks(path: Path, plan: PlanInForce, city: City, from_day: date) -> Locks:
    """Read a table of locks.

    Parameters
    ----------
    path : Path
        CSV, GeoPackage or any table that GDAL reads: ``tree_id`` and any of
        ``day crew order``. ``yes`` keeps what the plan has, empty leaves it
        free; ``day`` may also be a date and ``crew`` a crew's name.
    plan : PlanInForce
    city : City
    from_day : date

    Returns
    -------
    Locks

    Raises
    ------
    InventoryError
        If it is no such table.
    SettingsError
        With every lock that cannot be held: its tree is none of the inventory
        or has no visit in the plan, two rows disagree, its day is past, or its
        crew does not work then.
    """
    raw = read_layer(layer_info(Source(path))).table
    raw.columns = [str(name).strip().casefold() for name in raw.columns]
    if "tree_id" not in raw.columns or not set(COLUMNS) & set(raw.columns):
        there = ", ".join(raw.columns)
        remedy = "columns: tree_id and any of day, crew, order"
        raise InventoryError(
            Fault(f"is no table of locks; columns there: {there}", str(path), remedy)
        )
    table = pd.DataFrame({name: _cells(raw, name) for name in ("tree_id", *COLUMNS)})
    faults: list[Fault] = []
    stops = plan.stops
    planned: dict[str, Mapping[str, object]] = {
        str(tree): {"day": day.date(), "crew": str(crew), "order": True}
        for tree, day, crew in zip(stops["tree_id"], stops["date"], stops["crew"], strict=True)
    }
    known = set(city.inventory.trees["tree_id"])
    found: dict[str, dict[str, object]] = {name: {} for name in COLUMNS}
    for row, cells in enumerate(table.itertuples(index=False), start=1):
        tree = str(cells.tree_id)
        where = f"{path.name}, row {row}, tree {tree}"
        visit = planned.get(tree)
        if tree not in known and visit is None:
            faults.append(Fault("is no usable tree of the inventory", where, "correct the id"))
            continue
        for name in COLUMNS:
            value, fault = _read_cell(name, str(getattr(cells, name)), visit)
            if fault:
                faults.append(Fault(fault[0], where, fault[1]))
            elif value is not None and found[name].setdefault(tree, value) != value:
                what = f"{name} is locked to {found[name][tree]} and to {value}"
                faults.append(Fault(what, where, "keep one of the two"))
    locks = Locks(
        day={tree: day for tree, day in found["day"].items() if isinstance(day, date)},
        crew={tree: str(crew) for tree, crew in found["crew"].items()},
        order=frozenset(found["order"]),
    )
    faults += _impossible(locks, city.settings, from_day, path)
    if faults:
        raise SettingsError(faults)
    return locks


def _cells(raw: pd.DataFrame, name: str) -> pd.Series:
    if name not in raw.columns:
        return pd.Series("", index=raw.index, dtype="str")
    if pd.api.types.is_datetime64_any_dtype(raw[name]):
        raw = raw.assign(**{name: raw[name].dt.strftime("%Y-%m-%d").fillna("")})
    cells: pd.Series = text(raw[name])
    return cells


def _read_cell(
    name: str, cell: str, visit: Mapping[str, object] | None
) -> tuple[object, tuple[str, str] | None]:
    """Value of one cell, None where free; or what is wrong and the remedy."""
    word = cell.strip().casefold()
    if word in FREE:
        return None, None
    if word in AS_PLANNED:
        if visit is None:
            return None, ("has no visit in the plan to keep", "correct the id, or give a date")
        return visit[name], None
    if name == "crew":
        return cell.strip(), None
    if name == "day":
        try:
            return date.fromisoformat(cell.strip()), None
        except ValueError:
            return None, (f"day {cell!r} is no date", "write yes, or a date such as 2027-03-15")
    return None, (f"order {cell!r} is not understood", "write yes, or leave it empty")


def _impossible(locks: Locks, settings: CycleSettings, from_day: date, path: Path) -> list[Fault]:
    crews = {crew.name: crew for crew in settings.crews}
    faults = []
    for tree, crew in locks.crew.items():
        if crew not in crews:
            remedy = nearest_name(crew, list(crews))
            faults.append(Fault(f"there is no crew {crew!r}", f"{path.name}, tree {tree}", remedy))
    for tree, day in locks.day.items():
        where = f"{path.name}, tree {tree}"
        if day < from_day:
            what = f"its day {day} is past: the revision begins on {from_day}"
            faults.append(Fault(what, where, "lock it to a later day, or take the lock away"))
        elif not any(settings.works(crew, day) for crew in settings.crews):
            faults.append(Fault(f"no crew works on {day}", where, "lock it to a working day"))
    return faults


def locks_on_lost_days(locks: Locks, lost: pd.DataFrame, settings: CycleSettings) -> list[Fault]:
    """Find locks to crew-days that are lost or given to emergency work.

    Parameters
    ----------
    locks : Locks
    lost : DataFrame
        ``crew date use``.
    settings : CycleSettings

    Returns
    -------
    list of Fault
    """
    gone = {
        (str(crew), day.date()): str(use)
        for crew, day, use in lost[["crew", "date", "use"]].itertuples(index=False)
    }
    faults = []
    for tree, day in locks.day.items():
        crew = locks.crew.get(tree)
        able = [
            name
            for name in ([crew] if crew else [crew.name for crew in settings.crews])
            if (name, day) not in gone
        ]
        if not able:
            who = crew or "every crew"
            what = f"is locked to {day}, which {who} loses"
            faults.append(Fault(what, f"tree {tree}", "take the lock or the lost day away"))
    return faults
