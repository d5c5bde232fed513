"""What the years ahead may bring: growth, faults, crew time and storms."""

from dataclasses import dataclass, fields
from pathlib import Path

from forestcycle.errors import Fault, SettingsError
from forestcycle.practice.tables import Column, load_table

NAMES = {
    "growth": "growth factor",
    "new_faults": "new faults factor",
    "worsening": "worsening factor",
    "minutes": "minutes factor",
    "storm_damage": "storm damage per tree and year",
    "storm_days": "share of crew-days lost to storms",
}
SHARES = ("storm_damage", "storm_days")
CHANCE_COLUMNS = {
    "chance": Column(words=tuple(NAMES.values()), once=True),
    "value": Column("number", least=0),
}


@dataclass(frozen=True)
class Chances:
    """Rates and factors in force over the whole horizon; a draw is another one of these.

    Attributes
    ----------
    growth : float
        Factor on the diameter growth of the published equations.
    new_faults : float
        Factor on the shares of ``priors.csv``: faults that trees without
        record turn out to have.
    worsening : float
        Factor on the catalogue's ``worsens_per_year``.
    minutes : float
        Factor on crew minutes at the tree.
    storm_damage : float
        Share of trees that a year's weather leaves with a broken limb, 0..1.
    storm_days : float
        Share of crew-days lost to storm work from the second year on, beyond
        the reserve of ``calendar.storm_reserve``, 0..1.
    """

    growth: float = 1.0
    new_faults: float = 1.0
    worsening: float = 1.0
    minutes: float = 1.0
    storm_damage: float = 0.0
    storm_days: float = 0.0

    def __post_init__(self) -> None:
        where = "the outlook's chances"
        faults = [
            Fault(f"{NAMES[name]} = {getattr(self, name):g} is not a share", where, "give 0 to 1")
            for name in SHARES
            if not 0 <= getattr(self, name) <= 1
        ]
        faults += [
            Fault(f"{NAMES[item.name]} = {getattr(self, item.name):g}", where, "give 0 or more")
            for item in fields(self)
            if item.name not in SHARES and not getattr(self, item.name) >= 0
        ]
        if faults:
            raise SettingsError(faults)


def load_chances(*, folder: Path | None = None) -> Chances:
    """Load ``outlook.csv``.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Chances

    Raises
    ------
    SettingsError
        Where the table does not fit, a chance is missing or stands there twice,
        or a share lies outside 0..1.
    """
    table = load_table("outlook", CHANCE_COLUMNS, folder=folder)
    value = table.set_index("chance")["value"]
    return Chances(**{field.name: float(value[NAMES[field.name]]) for field in fields(Chances)})
