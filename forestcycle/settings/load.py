"""Read ``cycle.toml``; report every fault at once."""

import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from forestcycle.errors import Fault, SettingsError, nearest_name
from forestcycle.settings.address import without_password
from forestcycle.settings.cycle import CycleSettings


def load_settings(path: Path | str) -> CycleSettings:
    """Read and check a settings file.

    Parameters
    ----------
    path : Path or str
        The ``cycle.toml``.

    Returns
    -------
    CycleSettings

    Raises
    ------
    SettingsError
        With one fault per wrong key: its name, value and remedy. A missing
        file, text that is not TOML and an unknown key are faults too.
    """
    path = Path(path)
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        fault = Fault("no such file", str(path), "'forestcycle inspect FILE' writes one")
        raise SettingsError(fault) from None
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(Fault(f"cannot be read: {error}", str(path))) from None
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(Fault(f"not valid TOML: {error}", str(path))) from None
    except RecursionError:
        fault = Fault("tables and lists nested too deep", str(path), "take them apart")
        raise SettingsError(fault) from None
    return check_settings(data, str(path))


def check_settings(data: dict[str, Any], source: str) -> CycleSettings:
    """Check settings that are in memory already.

    Parameters
    ----------
    data : dict
        As read from TOML.
    source : str
        Where they come from, for messages.

    Returns
    -------
    CycleSettings

    Raises
    ------
    SettingsError
        With one fault per wrong key.
    """
    try:
        return CycleSettings.model_validate(data)
    except ValidationError as error:
        faults = [_fault(source, dict(item)) for item in error.errors()]
        raise SettingsError(faults) from None


def _fault(source: str, item: dict[str, Any]) -> Fault:
    location = tuple(item["loc"])
    key = ".".join(str(part + 1) if isinstance(part, int) else str(part) for part in location)
    if item["type"] == "extra_forbidden":
        return Fault(f"unknown key {key!r}", source, _nearest_key(location))
    if item["type"] == "missing":
        return Fault(f"key {key!r} is missing", source, "add it")
    message = str(item["msg"]).removeprefix("Value error, ")
    value = item.get("input")
    shown = without_password(f" = {value!r}") if isinstance(value, str | int | float | bool) else ""
    return Fault(f"{key}{shown}: {message}" if key else message, source, "correct the value")


def _nearest_key(location: tuple[Any, ...]) -> str:
    model: Any = CycleSettings
    for part in location[:-1]:
        if isinstance(part, int):
            continue
        field = getattr(model, "model_fields", {}).get(part)
        if field is None:
            return "remove it"
        arguments = getattr(field.annotation, "__args__", ())
        model = arguments[0] if arguments else field.annotation
    return nearest_name(str(location[-1]), list(getattr(model, "model_fields", {})))
