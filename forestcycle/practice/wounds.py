"""How large a cut may be."""

from dataclasses import dataclass
from pathlib import Path

from forestcycle.practice.tables import Column, load_table

WOUND_COLUMNS = {"limit": Column(once=True), "cut_diameter_cm": Column("number", least=0)}


@dataclass(frozen=True)
class Wounds:
    """How large a cut may be.

    Attributes
    ----------
    ideal_cm : float
        What cuts should stay under.
    largest_cm : float
        A larger cut into sound wood seldom closes: no removal beyond it.
    controlled_cm : float
        A larger limb is not fully controlled by hand.
    """

    ideal_cm: float
    largest_cm: float
    controlled_cm: float


def load_wounds(*, folder: Path | None = None) -> Wounds:
    """Load ``wounds.csv``.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    Wounds

    Raises
    ------
    SettingsError
        If the table is not as it should be.
    """
    table = load_table("wounds", WOUND_COLUMNS, folder=folder).set_index("limit")
    diameter = table["cut_diameter_cm"]
    return Wounds(
        ideal_cm=float(diameter["ideal"]),
        largest_cm=float(diameter["largest"]),
        controlled_cm=float(diameter["controlled by hand"]),
    )
