"""What-if questions: a table with a line per scenario, and what each changes in the settings."""

import re
import tomllib
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from forestcycle.errors import Fault, InventoryError, SettingsError
from forestcycle.inventory.delimited import read_delimited
from forestcycle.settings import CycleSettings
from forestcycle.settings.load import check_settings

NAME = "name"
COUNT = "count"
NO_VALUE = "none"
MOST_CREWS_ALIKE = 200
MAY_CHANGE = ("budget", "calendar", "crews", "plan")
_PART = re.compile(r'"([^"]*)"|([^."]+)')


@dataclass(frozen=True)
class Scenario:
    """One question.

    Attributes
    ----------
    name : str
    settings : CycleSettings
        Those of the city with the scenario's changes.
    changes : dict of str to str
        As written, for the table of results.
    """

    name: str
    settings: CycleSettings
    changes: dict[str, str]


def read_scenarios(path: Path | str, settings: CycleSettings) -> list[Scenario]:
    """Read a table of scenarios and apply each to the city's settings.

    The table has a column ``name``; every other column is headed by a key of
    the settings, such as ``budget.year_cents`` or ``crews.Line crew.most_days``. An
    empty cell changes nothing, ``none`` takes a limit away. The column
    ``crews.Line crew.count`` says how many crews of that kind there are.

    Parameters
    ----------
    path : Path or str
        Delimited text.
    settings : CycleSettings

    Returns
    -------
    list of Scenario

    Raises
    ------
    SettingsError
        With the faults of all scenarios.
    """
    path = Path(path)
    scenarios: list[Scenario] = []
    faults: list[Fault] = []
    for line, (name, changes) in enumerate(_read_table(path), start=2):
        where = f"{path}, line {line}, scenario {name!r}"
        try:
            scenarios.append(Scenario(name, changed(settings, changes, where), changes))
        except SettingsError as error:
            faults += error.faults
    if faults:
        raise SettingsError(faults)
    return scenarios


def changed(settings: CycleSettings, changes: dict[str, str], where: str) -> CycleSettings:
    """Apply a scenario's changes.

    Parameters
    ----------
    settings : CycleSettings
    changes : dict of str to str
        By key, as written in a table.
    where : str
        For messages.

    Returns
    -------
    CycleSettings

    Raises
    ------
    SettingsError
    """
    data = deepcopy(settings.model_dump())
    data["crews"] = list(data["crews"])
    counts: dict[str, str] = {}
    for key, text in changes.items():
        parts = [quoted or bare for quoted, bare in _PART.findall(key)]
        if len(parts) < 2 or parts[0] not in MAY_CHANGE:
            remedy = f"a scenario may change {', '.join(MAY_CHANGE)}"
            raise SettingsError(Fault(f"cannot change {key!r}", where, remedy))
        if parts[0] == "crews" and parts[2:] == [COUNT]:
            counts[parts[1]] = text
        else:
            _table(data, parts, where)[parts[-1]] = _value(text)
    for name, text in counts.items():
        _count_crews(data, name, text, where)
    return check_settings(data, where)


def _read_table(path: Path) -> list[tuple[str, dict[str, str]]]:
    if not path.is_file():
        raise SettingsError(Fault("no such file", str(path), "see 'forestcycle compare --help'"))
    try:
        table = read_delimited(path)
    except InventoryError as error:
        raise SettingsError(error.faults) from None
    if NAME not in table.columns:
        raise SettingsError(Fault(f"has no column {NAME!r}", str(path), "name each scenario in it"))
    names = table[NAME].str.strip().tolist()
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice or not names or "" in names:
        what = f"scenarios share a name: {', '.join(twice)}" if twice else "a scenario has no name"
        raise SettingsError(Fault(what, str(path), "give each line a name of its own"))
    rows = table.drop(columns=NAME).to_dict("records")
    return [
        (name, {str(key): text.strip() for key, text in row.items() if text.strip()})
        for name, row in zip(names, rows, strict=True)
    ]


def _value(text: str) -> Any:  # noqa: ANN401 - whatever TOML can say; the settings check it
    if text == NO_VALUE:
        return None
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


def _table(data: dict[str, Any], parts: list[str], where: str) -> dict[str, Any]:
    """Find the table of the settings in which a key's last part stands."""
    if parts[0] == "crews":
        table, rest = _crew(data, parts[1], where), parts[2:-1]
    else:
        table, rest = data[parts[0]], parts[1:-1]
    for part in rest:
        if not isinstance(table.get(part), dict):
            table[part] = {}
        table = table[part]
    return table


def _crew(data: dict[str, Any], name: str, where: str) -> dict[str, Any]:
    for crew in data["crews"]:
        if crew["name"] == name:
            found: dict[str, Any] = crew
            return found
    known = ", ".join(repr(crew["name"]) for crew in data["crews"]) or "there is none"
    raise SettingsError(Fault(f"no crew {name!r}", where, f"crews: {known}"))


def _count_crews(data: dict[str, Any], name: str, text: str, where: str) -> None:
    """Have so many crews of a kind: none, or the one there is and copies of it."""
    crew = _crew(data, name, where)
    if not text.isdecimal() or int(text) > MOST_CREWS_ALIKE:
        remedy = f"give 0 to {MOST_CREWS_ALIKE}"
        raise SettingsError(Fault(f"crews.{name}.{COUNT} = {text}", where, remedy))
    place = data["crews"].index(crew)
    copies = [crew | {"name": f"{name} {number}"} for number in range(2, int(text) + 1)]
    data["crews"][place : place + 1] = [crew, *copies] if int(text) else []
