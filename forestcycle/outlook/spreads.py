"""How the chances of the years ahead vary: distributions from a table, and seeded draws of them."""

from dataclasses import fields, replace
from math import log
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from forestcycle.errors import Fault, SettingsError
from forestcycle.outlook.chances import NAMES, SHARES, Chances, load_chances
from forestcycle.practice.tables import Column, load_table

SPREAD_COLUMNS = {
    "chance": Column(words=tuple(NAMES.values()), once=True, may_lack=True),
    "distribution": Column(words=("lognormal", "uniform")),
    "upper": Column("number", least=0),
}
UPPER_QUANTILE = 0.95
ROUNDING = 1e-9


class Spread(NamedTuple):
    """How one chance varies.

    Attributes
    ----------
    distribution : str
        ``lognormal`` around the value of ``outlook.csv`` as its median, or
        ``uniform`` from that value upwards.
    upper : float
        Of a lognormal, the factor on the median that one draw in 20 passes; of
        a uniform one, the largest value.
    """

    distribution: str
    upper: float


def load_spreads(*, folder: Path | None = None) -> dict[str, Spread]:
    """Load ``uncertainty.csv``; a chance without a row does not vary.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    dict of str to Spread
        By the field of ``Chances``.

    Raises
    ------
    SettingsError
        Where the table does not fit, or a draw could not follow it: a share over 1, a largest
        value below that of ``outlook.csv``, a factor below 1.
    """
    table = load_table("uncertainty", SPREAD_COLUMNS, folder=folder)
    field_of = {name: field for field, name in NAMES.items()}
    spreads = {
        field_of[str(row.chance)]: Spread(str(row.distribution), float(str(row.upper)))
        for row in table.itertuples()
    }
    faults = spread_faults(load_chances(folder=folder), spreads)
    if faults:
        raise SettingsError(faults)
    return spreads


def spread_faults(expected: Chances, spreads: dict[str, Spread]) -> list[Fault]:
    """Return a fault for each spread that no draw can follow around what is expected.

    Parameters
    ----------
    expected : Chances
    spreads : dict of str to Spread

    Returns
    -------
    list of Fault
    """
    refused = {
        field: _refusal(field, getattr(expected, field), spread)
        for field, spread in spreads.items()
    }
    return [
        Fault(f"{NAMES[field]}: upper = {spreads[field].upper:g}", "uncertainty.csv", remedy)
        for field, remedy in refused.items()
        if remedy
    ]


def _refusal(field: str, value: float, spread: Spread) -> str:
    """Say what to give instead of a spread that no draw can follow, else nothing."""
    factor = spread.distribution == "lognormal"
    least = 1.0 if factor else value
    if spread.upper < least:
        return "give 1 or more" if factor else f"give {value:g}, as in outlook.csv, or more"
    most = 1 / value if factor and value > 0 else 1.0
    if field in SHARES and spread.upper > most + ROUNDING and (value > 0 or not factor):
        return f"give at most {most:g}: a share is no more than 1"
    return ""


def draw_chances(
    expected: Chances, spreads: dict[str, Spread], random: np.random.Generator
) -> Chances:
    """Draw one set of chances; shares are held at 1.

    Parameters
    ----------
    expected : Chances
    spreads : dict of str to Spread
    random : Generator

    Returns
    -------
    Chances
    """
    drawn: dict[str, float] = {}
    for field in fields(Chances):
        unit = random.random()
        if field.name not in spreads:
            continue
        value = _at(getattr(expected, field.name), spreads[field.name], unit)
        drawn[field.name] = min(value, 1.0) if field.name in SHARES else value
    return replace(expected, **drawn)


def _at(centre: float, spread: Spread, unit: float) -> float:
    """Value below which a share ``unit`` of the draws lies."""
    if spread.distribution == "uniform":
        return centre + unit * max(spread.upper - centre, 0.0)
    sigma = log(spread.upper) / float(ndtri(UPPER_QUANTILE))
    return centre * float(np.exp(sigma * ndtri(unit)))
