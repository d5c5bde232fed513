"""Propose the unit of a length from its name, its values and where the city lies."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from forestcycle.inventory.convert import numbers

US_LENGTHS = ("in", "ft")
FEWEST_MILLIMETRES = 150.0
INCHES_BELOW = 42.0
SURELY_INCHES_BELOW, SURELY_CENTIMETRES_ABOVE = 30.0, 60.0
FEET_ABOVE = {"height": 45.0, "crown_diameter": 28.0}

UnitGuess = tuple[str, bool, str]


def propose_units(
    columns: Mapping[str, pd.Series],
    said: Mapping[str, str | None],
    longitude: float | None,
    latitude: float | None,
) -> dict[str, UnitGuess]:
    """Propose units.

    Parameters
    ----------
    columns : mapping of str to Series
        Values by our name of the length, ``dbh`` and others.
    said : mapping of str to (str or None)
        Unit that the field's name ends with.
    longitude, latitude : float or None
        Where the city lies, in degrees.

    Returns
    -------
    dict of str to (unit, surely, why)

    Notes
    -----
    Diameters: the 95th percentile of a city's trees lies near 60 to 80 in
    centimetres and near 25 to 30 in inches; what lies between is decided by
    the place. Other lengths follow the diameter's system where their values
    do not tell. These bounds are ours.
    """
    in_us = (
        longitude is not None
        and latitude is not None
        and -125 <= longitude <= -66
        and 24 <= latitude <= 49.5
    )
    found: dict[str, UnitGuess] = {}
    for key, column in columns.items():
        named = said.get(key)
        if named is not None:
            found[key] = (named, True, "the field's name says so")
        elif key == "dbh":
            found[key] = _diameter_unit(numbers(column)[0], in_us=in_us)
    us_system = found["dbh"][0] in US_LENGTHS if "dbh" in found else in_us
    for key, column in columns.items():
        if key not in found:
            found[key] = _length_unit(key, numbers(column)[0], us_system=us_system)
    return {key: found[key] for key in columns}


def _high_end(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    positive = values[values > 0]
    return float(np.percentile(positive, 95)) if len(positive) else 0.0


def _diameter_unit(
    values: np.ndarray[tuple[int, ...], np.dtype[np.float64]], *, in_us: bool
) -> UnitGuess:
    high = _high_end(values)
    why = f"95 of 100 diameters are below {high:.1f}"
    if high > FEWEST_MILLIMETRES:
        return "mm", True, why
    threshold = SURELY_CENTIMETRES_ABOVE if in_us else INCHES_BELOW
    if high < threshold:
        place = ", and the city lies in the United States" if in_us else ""
        return "in", in_us or high < SURELY_INCHES_BELOW, why + place
    return "cm", high > SURELY_CENTIMETRES_ABOVE, why


def _length_unit(
    key: str, values: np.ndarray[tuple[int, ...], np.dtype[np.float64]], *, us_system: bool
) -> UnitGuess:
    high = _high_end(values)
    if high > FEET_ABOVE.get(key, np.inf):
        return "ft", True, f"95 of 100 values are below {high:.1f}, too many for metres"
    if us_system:
        return "ft", True, "the diameters are in US units"
    return "m", True, "the diameters are metric"
